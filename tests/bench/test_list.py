"""The benchmarks are no tests; that they can be started is one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_the_benchmarks_can_be_listed() -> None:
    command = [sys.executable, "-m", "tests.bench", "--list"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 0, done.stderr
    names = [line.split()[0] for line in done.stdout.splitlines()]
    first = ["step-window", "step-in-process", "start-up", "results", "pages", "colours", "night"]
    assert names == [*first, "sweep-night", "library", "soak", "adaptive", "service", "orchestrator"]
