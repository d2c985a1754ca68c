"""Sustained luminance: how far the light of a window falls on every HDR display, and from which peak. SIMULATED."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.hdr.chain import job_of, results, session
from tests.hdr.hdr_truth import SHORT, Measured, measured_with
from tests.hdr.hdr_windows import check_windows

measured = measured_with("  - sustained: {areas_percent: [100], minutes: 5}\n")


def test_windows_over_size_and_time(measured: Measured) -> None:
    display, found = measured
    check_windows(display, found["blocks"]["sustained"]["windows"])
    full = found["blocks"]["sustained"]["windows"]["100-percent"]
    fell = full["below_95_after_s"]
    assert (fell["value"] is not None) == (display in ("hdr-emissive", "hdr-zone-lcd"))


def test_a_window_that_stays_is_held_against_the_same_best_second_as_one_that_does_not(tmp_path: Path) -> None:
    """A panel that limits within a quarter of a second: the figure is a mean of one second, not one reading."""
    text = "  - peak: {areas_percent: [10], for_s: 60}\n  - sustained: {areas_percent: [10], minutes: 1, black_s: 10}\n"
    assert session(job_of(SHORT % "pq" + text), "hdr-emissive", tmp_path / "run.log", noise="none")
    blocks = results(tmp_path / "run.log")["blocks"]
    (short,), (long,) = (blocks[name]["windows"].values() for name in ("peak", "sustained"))
    assert long["peak"]["value"] == pytest.approx(short["peak"]["value"], rel=0.005)
    assert list(long["moments"].values())[-1]["share"]["value"] == pytest.approx(
        list(short["moments"].values())[-1]["share"]["value"], abs=0.5
    )
