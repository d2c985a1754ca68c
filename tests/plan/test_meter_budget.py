"""The section of a bench profile that states the meter's uncertainty."""

from __future__ import annotations

import pytest

from benchd.errors import ProfileError
from benchd.profile import profile_store as library

BENCH = """\
bench: mine
screen: {monitor: primary}
instruments: {meter: {command: [./bridge]}}
"""


def test_what_is_left_out_is_zero_and_a_date_needs_no_quotes() -> None:
    bench = library.load_bench(BENCH + "uncertainty: {calibration_percent: 2, calibrated: 2026-03-02}\n", "mine.yaml")
    assert bench.uncertainty is not None
    assert bench.uncertainty.normalised() == {
        "k": 2.0,
        "calibration_percent": 2.0,
        "chromaticity_xy": 0.0,
        "linearity_percent": 0.0,
        "zero_cd_m2": 0.0,
        "drift_percent_per_year": 0.0,
        "placement_percent": 0.0,
        "instrument": "filter",
        "calibrated": "2026-03-02",
    }


def test_a_bench_may_state_nothing() -> None:
    assert library.load_bench(BENCH, "mine.yaml").uncertainty is None


@pytest.mark.parametrize(
    ("section", "words"),
    [
        ("{calibration_percent: -1}", "calibration_percent"),
        ("{k: 0.5}", "use 1 to 4"),
        ("{calibrated: last spring}", "write year-month-day"),
        ("{callibration_percent: 1}", "calibration_percent"),
    ],
)
def test_faults_are_told(section: str, words: str) -> None:
    with pytest.raises(ProfileError, match=words):
        library.load_bench(BENCH + f"uncertainty: {section}\n", "mine.yaml")
