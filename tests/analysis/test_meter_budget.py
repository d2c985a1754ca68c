"""What is stated of the meter becomes sources of every step's light."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.meter_model.stated_sources import MeterBudget, budget_from, channel_gains, decades
from benchd.analysis.uncertainty.uncertainty_budget import budget_of
from tests.analysis.logs import Log, xyz

STATED = {
    "k": 2.0,
    "calibration_percent": 2.0,
    "chromaticity_xy": 0.002,
    "linearity_percent": 0.2,
    "zero_cd_m2": 0.001,
    "drift_percent_per_year": 0.5,
    "placement_percent": 0.2,
    "calibrated": "2025-07-02",
}
METER = {"model": "invented", "serial_number": "1"}


def test_figures_are_divided_by_their_coverage_factor_and_drift_grows_with_age() -> None:
    budget = budget_from({"uncertainty": STATED, "meter": METER}, "2026-01-01T00:00:00.000Z")
    assert budget is not None
    assert (budget.scale, budget.linearity, budget.placement) == (0.01, 0.001, 0.001)
    assert (budget.colour_x, budget.zero_cd_m2) == (0.001, 0.0005)
    assert budget.years == pytest.approx(0.501, abs=1e-3)
    assert budget.drift == pytest.approx(0.0025 * budget.years)
    assert not budget.assumed


def test_nothing_stated_is_no_budget_and_an_unknown_age_is_one_year() -> None:
    assert budget_from({"meter": METER}, "2026-01-01") is None
    budget = budget_from({"uncertainty": {**STATED, "calibrated": None}, "meter": METER}, "2026-01-01")
    assert budget is not None
    assert (budget.years, budget.assumed) == (1.0, True)


@pytest.mark.parametrize("axis", ["x", "y"])
def test_gains_of_x_and_z_move_one_coordinate_of_a_white(axis: str) -> None:
    white = colour.xyz_from_xy((0.3127, 0.3290), 100.0)
    gain_x, gain_z = channel_gains(axis, 1e-4)
    moved = white * (1.0 + gain_x, 1.0, 1.0 + gain_z)
    change = colour.xy_from_xyz(moved) - (0.3127, 0.3290)
    assert change == pytest.approx((1e-4, 0.0) if axis == "x" else (0.0, 1e-4), abs=2e-7)


@given(st.floats(1e-5, 1e6))
@settings(derandomize=True)
def test_linearity_is_as_large_at_every_level(luminance: float) -> None:
    assert math.sqrt(sum(weight**2 for _, weight in decades(luminance))) == pytest.approx(1.0)


def test_steps_of_one_level_share_it_and_far_ones_do_not() -> None:
    budget = MeterBudget("meter", linearity=0.01)
    near = [
        {source: change[1] / level for source, change in budget.vectors((level, level, level), "")}
        for level in (300.0, 301.0)
    ]
    assert math.sqrt(sum((near[0][source] - near[1][source]) ** 2 for source in near[0])) < 1e-4
    far = [dict(budget.vectors((level, level, level), "")) for level in (300.0, 0.3)]
    assert not set(far[0]) & set(far[1])


def measured(stated: dict[str, Any] | None) -> Log:
    log = Log(
        [{"name": "luminance", "kind": "luminance"}, {"name": "contrast", "kind": "contrast", "kinds": ["sequential"]}],
        uncertainty=stated,
    )
    dice = np.random.default_rng(2)
    for block in ("luminance", "contrast"):
        for level, luminance in (("white", 400.0), ("black", 0.4)):
            labels = {"level": level} if block == "luminance" else {"level": level, "kind": "sequential"}
            readings = [xyz(luminance * (1.0 + 1e-3 * dice.standard_normal())) for _ in range(5)]
            log.measure(f"{block}/{level}", labels, readings, code=255 if level == "white" else 0)
    return log


def test_the_scale_is_in_a_luminance_and_not_in_a_contrast() -> None:
    results = analyse(measured(STATED).end())
    white = budget_of(results.of("luminance")[0].white)
    sequential = results.of("contrast")[0].sequential
    assert sequential is not None
    contrast = budget_of(sequential.ratio)
    assert white is not None
    assert contrast is not None
    assert white.lines[0].source.endswith(": scale")
    assert white.standard == pytest.approx(4.06, abs=0.06), "1 % of 400, and a little"
    assert not any(line.source.endswith((": scale", "calibration")) for line in contrast.lines)
    assert any("linearity" in line.source for line in contrast.lines)
    assert sum(line.share for line in contrast.lines) == pytest.approx(1.0)
    assert results.uncertainty is not None


def test_without_a_statement_only_the_readings_count() -> None:
    results = analyse(measured(None).end())
    white = budget_of(results.of("luminance")[0].white)
    assert white is not None
    assert [line.source for line in white.lines] == ["readings of luminance/white"]
    assert white.dof == pytest.approx(4)
    assert results.uncertainty is None


def test_a_meter_moved_away_and_back_stands_otherwise() -> None:
    log = Log([{"name": "patches", "kind": "patches", "names": ["a", "b", "c"]}], uncertainty=STATED)
    readings = [xyz(100.0), xyz(100.1), xyz(99.9)]
    log.measure("patches/a", {"name": "a"}, readings)
    log.measure("patches/b", {"name": "b"}, readings)
    log.add("moved", {"at": [0.5, 0.5], "by": "mover"}, "patches/c")
    log.measure("patches/c", {"name": "c"}, readings)
    placings = []
    for patch in analyse(log.end()).of("patches")[0].patches:
        budget = budget_of(patch.luminance)
        assert budget is not None
        placings.append(next(line.source for line in budget.lines if line.source.startswith("placing")))
    assert placings[0] == placings[1] != placings[2]
