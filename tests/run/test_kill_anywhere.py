"""SIGKILL after records of the plan sdr-standard, then resume: the results never differ.

Every fifth record here, so that the gate stays quick; all of them are `python -m tests.run.kill_anywhere sdr-standard
1 100000`.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
EVERY = 5


@pytest.mark.parametrize("first", [1, 331])
def test_killed_after_a_record(first: int) -> None:
    last = 330 if first == 1 else 100_000
    command = [sys.executable, "-m", "tests.run.kill_anywhere", "sdr-standard", str(first), str(last), str(EVERY)]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr
    said = re.search(r"after every 5\. of records (\d+) to (\d+) of (\d+): 0 differ", run.stdout)
    assert said is not None, run.stdout
    total = int(said[3])
    assert total > 600
    assert (int(said[1]), int(said[2])) == (first, min(last, total - 1))
