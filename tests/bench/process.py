"""Runs this interpreter on the project, as its user would, in a folder of the benchmark's own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def python(words: Sequence[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """``python WORDS`` in ``folder``, to its end. Raises RuntimeError with its last words when it fails."""
    # A runtime folder of its own: a simulated meter that somebody else holds must not stop the benchmark.
    surroundings = {"PYTHONPATH": str(ROOT), "COLUMNS": "100", "XDG_RUNTIME_DIR": str(folder)}
    done = subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env={**os.environ, **surroundings},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"python {' '.join(words)} ended with {done.returncode}: {done.stderr[-500:]}")
    return done
