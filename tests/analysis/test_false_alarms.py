"""False alarms are at most 5 %: a smaller study of what ``python -m tests.analysis.false_alarms`` prints."""

from __future__ import annotations

import math

import pytest

from tests.analysis.false_alarms import simulate, table

TRIALS = 1000
ALLOWED = 0.05 + 2.6 * math.sqrt(0.05 * 0.95 / TRIALS)  # 99.5 % of a simulation of 5 % stays below


@pytest.mark.parametrize(
    ("n", "m", "ratio"), [(2, 2, 0.1), (2, 10, 0.3), (3, 3, 1.0), (3, 10, 0.7), (5, 6, 3.0), (10, 30, 1.5)]
)
def test_false_alarms_are_at_most_5_percent(n: int, m: int, ratio: float) -> None:
    found = simulate(n, m, ratio, TRIALS)
    assert found.different <= ALLOWED
    assert found.equivalent <= ALLOWED


def test_the_table_has_every_case_and_the_worst() -> None:
    assert "worst of 72 cases" in table(2)
