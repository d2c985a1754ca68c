"""SIGKILL after records of the plan sdr-standard, then resume: the results never differ.

Every fifth record here, so that the gate stays quick; all of them are `python -m tests.run.kill_anywhere sdr-standard
1 100000`.
"""

from __future__ import annotations

import pytest

from tests.run.kill_anywhere import none_differs

EVERY = 5


@pytest.mark.parametrize("first", [1, 331])
def test_killed_after_a_record(first: int) -> None:
    last = 330 if first == 1 else 100_000
    said = none_differs("sdr-standard", first, last, EVERY)
    assert "after every 5. of records" in said.string
    total = int(said[3])
    assert total > 600
    assert (int(said[1]), int(said[2])) == (first, min(last, total - 1))
