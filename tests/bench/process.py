"""Runs this interpreter on the project, as its user would, in a folder of the benchmark's own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


class Failed(Exception):
    """A process did not do what it was started for; the text has its last words."""


def python(words: Sequence[str], folder: Path, root: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """``python WORDS`` in ``folder``, to its end, with the project at ``root``. Raises `Failed`."""
    surroundings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    surroundings |= {
        "PYTHONPATH": str(root),
        "COLUMNS": "100",
        # Compiled modules, as an installation has them, whatever the user of the benchmark prefers.
        "PYTHONPYCACHEPREFIX": str(folder / "compiled"),
        # A simulated meter that somebody else holds must not stop the benchmark.
        "XDG_RUNTIME_DIR": str(folder),
        "XDG_STATE_HOME": str(folder / "state"),
    }
    done = subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env=surroundings,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise Failed(f"python {' '.join(words)} ended with {done.returncode}: {done.stderr[-500:]}")
    return done
