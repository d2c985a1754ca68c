"""Peak luminance: of readings over time, bounds, trends and intervals; of every HDR display. SIMULATED."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.measurements.peak.show import PART
from tests.analysis.logs import Log, xyz
from tests.hdr.chain import job_of, session
from tests.hdr.hdr_truth import SHORT, Measured, cut, measured_with
from tests.hdr.hdr_windows import check_windows

measured = measured_with("  - peak: {areas_percent: [2, 10, 50, 100]}\n")


def test_windows_over_size_and_time(measured: Measured) -> None:
    display, found = measured
    check_windows(display, found["blocks"]["peak"]["windows"])


def test_the_pixels_that_were_lit(measured: Measured) -> None:
    one = measured[1]["blocks"]["peak"]["windows"]["10-percent"]
    assert one["pixels"] == [607, 342]
    assert one["true_area_percent"] == pytest.approx(100 * 607 * 342 / (1920 * 1080))


def test_the_maximum_waits_for_all_sizes(tmp_path: Path) -> None:
    whole = tmp_path / "whole.log"
    assert session(job_of(SHORT % "pq" + "  - peak: {areas_percent: [2, 10, 100], for_s: 10}\n"), "hdr-zone-lcd", whole)
    peak = cut(whole, "peak/10", tmp_path / "p.log")["peak"]
    assert peak["maximum"]["why"] == peak["missing"] == "size 100 % was not measured"
    assert len(peak["windows"]) == 2


def _log(values: list[float | None], status: str = "ok", integration_s: float = 0.2) -> Log:
    block = {
        "name": "peak",
        "kind": "peak",
        "areas_percent": [10.0, 100.0],
        "for_s": 60.0,
        "black_s": 10.0,
        "code": 1023,
        "bits": 10,
        "signal": {"transfer": "pq", "bits": 10, "range": "full", "peak_cd_m2": 1000.0},
    }
    log = Log([block])
    log.shown("peak/10", {"area_percent": 10.0}, 1023, bits=10)
    for k, value in enumerate(values):
        figures = None if value is None else xyz(value)
        body = {"n": k + 1, "xyz": figures, "status": status, "integration_s": integration_s, "after_s": 0.25 * k}
        log.add("reading", body, "peak/10")
    log.add("done", {"readings": len(values)}, "peak/10")
    return log


def test_over_range_is_a_bound_and_never_a_peak() -> None:
    (block,) = analyse(_log([None] * 30, "over").end()).of("peak")
    window = block.windows[0]
    assert window.peak.bound == "above" or not window.peak.present
    assert block.missing == "not measured: size 100 %" or "100 %" in block.missing


def test_a_changing_light_is_a_trend_and_no_standard_deviation() -> None:
    """80 cd/m2 a second: what it makes of the times is all that is uncertain where no reading errs."""
    window = analyse(_log([1000.0 - 20.0 * k for k in range(40)]).end()).of("peak")[0].windows[0]
    assert window.peak.value == pytest.approx(970.0)
    assert window.peak.s == pytest.approx(0.0, abs=1e-9)
    assert window.peak_trend.value == pytest.approx(-100.0 * 80.0 / 970.0)
    # Four readings of 0.2 s with gaps of 0.05 s: their middle is 0.475 s, that of the second 0.5 s; and one frame.
    assert window.peak.u == pytest.approx(80.0 * math.hypot(0.025, 1.0 / 50.0) / math.sqrt(3.0), rel=1e-6)


def test_without_enough_readings_the_lack_of_an_interval_has_its_reason() -> None:
    window = analyse(_log([1000.0] * 6).end()).of("peak")[0].windows[0]
    assert window.peak.interval is None
    assert "standard deviation is not known" in window.peak.why


def falls(tau_s: float, left: float, dice: np.random.Generator, late_s: float, noise: float) -> list[float | None]:
    """Means over 0.25 s of a light that falls to a share ``left`` of itself, the patch ``late_s`` later than logged."""
    begin = np.arange(60) * 0.25 - late_s
    mean = left + (1.0 - left) * tau_s / 0.25 * (np.exp(-begin / tau_s) - np.exp(-(begin + 0.25) / tau_s))
    return (1000.0 * mean * (1.0 + noise * dice.standard_normal(60))).tolist()


@pytest.mark.parametrize("noise", [0.001, 0.01])
@pytest.mark.parametrize(("tau_s", "left"), [(0.25, 0.3), (0.6, 0.5), (3.0, 0.7), (40.0, 0.7), (0.3, 1.0)])
def test_the_peak_of_a_light_that_falls_is_held(tau_s: float, left: float, noise: float) -> None:
    """40 windows a law: the second's mean within U 93 % of the time, U no wider than who knows the law needs.

    That one needs 1.96 times the root mean square of what was drawn: a patch up to a frame of 60 Hz early or late, and
    noise, by which the best second is picked where the light hardly falls.
    """
    dice, held, wide, drawn = np.random.default_rng(7), 0, [], []
    for _ in range(40):
        late_s = dice.uniform(-1.0, 1.0) / 60.0
        values = falls(tau_s, left, dice, late_s, noise)
        peak = analyse(_log(values, integration_s=0.25).end()).of("peak")[0].windows[0].peak
        truth = 1000.0 * (left + (1.0 - left) * tau_s * (1.0 - math.exp(-1.0 / tau_s)))
        assert peak.value is not None
        assert peak.interval is not None
        held += peak.interval[0] <= truth <= peak.interval[1]
        wide.append((peak.interval[1] - peak.interval[0]) / 2.0)
        drawn.append(peak.value - truth)
    assert held >= 37
    # Of a light that falls by 1 % a second, read with 1 %, ten seconds or so count as rivals though the first leads.
    assert np.median(wide) <= (1.5 if tau_s == 40.0 else 1.3) * 1.96 * float(np.sqrt(np.mean(np.square(drawn))))


def test_what_the_codes_ask_for_is_said() -> None:
    (block,) = analyse(_log([900.0] * 40).end()).of("peak")
    assert block.requested_cd_m2 == pytest.approx(10_000.0)


def test_windows_that_agree_within_their_uncertainty_name_no_highest() -> None:
    """Which of them is the highest is chance then; one that differs leaves the highest its name."""

    def quantity(value: float) -> Quantity:
        return Quantity(value, "cd/m2", 5, sources=Fixed({Source(f"readings at {value}"): 1.0}))

    for other, said in ((600.5, "at every window"), (500.0, "at a window of 75 %")):
        windows = tuple(SimpleNamespace(peak=quantity(value)) for value in (600.9, other))
        block: Any = SimpleNamespace(
            windows=windows,
            maximum=quantity(601.0),
            maximum_area_percent=75.0,
            full_over_maximum=absent("ratio", "not measured"),
        )
        assert PART.brief(block).lines[0].figure.at == said
