"""Runs the command line as its user does: a process, a working folder, an exit code."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

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
def benchd(tmp_path: Path) -> Benchd:
    """``benchd("results", log, "--json")`` in a fresh folder."""

    def run(*words: object, code: int | None = 0) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "benchd", *map(str, words)]
        done = subprocess.run(
            command,
            cwd=tmp_path,
            env=environment(tmp_path),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
            timeout=600,
        )
        assert "Traceback" not in done.stderr
        if code is not None:
            assert done.returncode == code, done.stdout + done.stderr
        return done

    return run
