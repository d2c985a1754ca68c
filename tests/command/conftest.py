"""Runs the command line as its user does: a process, a working folder, an exit code."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.ready import Ready

ROOT = Path(__file__).resolve().parents[2]
Benchd = Callable[..., subprocess.CompletedProcess[str]]


def environment(folder: Path) -> dict[str, str]:
    """A private runtime folder, so that tests in parallel do not hold each other's simulated meter."""
    runtime = folder / "runtime"
    runtime.mkdir(exist_ok=True)
    kept = {"XDG_DATA_HOME": str(folder / "data"), "XDG_STATE_HOME": str(folder / "state")}
    own = {"XDG_RUNTIME_DIR": str(runtime), **kept}
    return {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100", **own}


@pytest.fixture
def benchd(tmp_path: Path, ready: Ready) -> Benchd:
    """``benchd("results", log, "--json")`` in a fresh folder; ``anew``: with an interpreter begun for it alone."""

    def run(*words: object, code: int | None = 0, anew: bool = False) -> subprocess.CompletedProcess[str]:
        said = [str(word) for word in words]
        if anew:
            done = subprocess.run(
                [sys.executable, "-m", "benchd", *said],
                cwd=tmp_path,
                env=environment(tmp_path),
                stdin=subprocess.DEVNULL,
                capture_output=True,
                text=True,
                check=False,
                timeout=600,
            )
        else:
            done = ready.run(said, tmp_path, environment(tmp_path))
        assert "Traceback" not in done.stderr
        if code is not None:
            assert done.returncode == code, done.stdout + done.stderr
        return done

    return run
