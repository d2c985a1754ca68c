"""SIGKILL after each record of the plan sdr-standard, then resume: the results never differ."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HALVES = [(1, 320), (321, 100_000)]
"""Two halves, so that two workers share them; the second goes to the plan's last record."""


@pytest.mark.parametrize(("first", "last"), HALVES)
def test_killed_after_each_record(first: int, last: int) -> None:
    command = [sys.executable, "-m", "tests.run.kill_anywhere", "sdr-standard", str(first), str(last)]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr
    said = re.search(r"after records (\d+) to (\d+) of (\d+): 0 differ", run.stdout)
    assert said is not None, run.stdout
    total = int(said[3])
    assert total > 600
    assert (int(said[1]), int(said[2])) == (first, min(last, total - 1))
