"""The words for a warm-up: stable or not, why not, and what was still to come."""

from __future__ import annotations

from typing import Any

import pytest

from benchd.analysis.log.results_run import warm_up_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.sections.conditions import warm_up_words
from tests.report import made

TREND = {
    "ahead_min": 15.0,
    "change": -0.0012,
    "u_change": 0.0005,
    "in_hour": -0.003,
    "u_in_hour": 0.002,
    "per_hour": -0.006,
    "u_per_hour": 0.002,
    "endless": 0.3,
    "dof": 1e6,
    "steady": False,
}


def words(**done: Any) -> str:
    body = {"readings": 37, "stable": True, "minutes": 24.0, "not_stable_because": [], "trend": TREND, **done}
    return warm_up_words(made.results(warm_up=warm_up_of(body, Quantity(80.0, "cd/m2", 37))))


def test_what_was_to_come_is_printed_with_its_uncertainty() -> None:
    expected = "stable after 24.0 min; to come: -0.120 ± 0.098 % in the next 15 min, -0.30 ± 0.39 % in an hour"
    assert words() == expected
    text = words(trend={**TREND, "ahead_min": 60.0})
    assert text == "stable after 24.0 min; to come: -0.120 ± 0.098 % in the next 60 min"


def test_a_log_of_before_says_as_much_as_it_knows() -> None:
    assert words(trend=None) == "stable after 24.0 min"


@pytest.mark.parametrize(
    ("done", "part"),
    [
        ({"not_stable_because": ["band", "to come"]}, "it left the band of 1 % in ten minutes"),
        ({"not_stable_because": ["too few readings"], "trend": None}, "fewer than eleven minutes tell no trend"),
        ({"not_stable_because": ["swings"], "swing": {"peak_to_peak": 0.0234, "seen": True}}, "it swings by 2.3 %"),
        (
            {"not_stable_because": ["steady trend"], "trend": {**TREND, "per_hour": -0.03, "steady": True}},
            "a steady trend of -3.00 ± 0.39 % an hour, no end in sight",
        ),
    ],
)
def test_why_it_was_not_stable(done: dict[str, Any], part: str) -> None:
    text = words(stable=False, **done)
    assert text.startswith("NOT stable after 24.0 min: figures may drift; ")
    assert part in text


def test_a_swing_below_the_noise_is_not_told() -> None:
    assert "swings" not in words(swing={"peak_to_peak": 0.002, "seen": False})
