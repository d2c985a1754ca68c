"""Statements about dark blacks, values and bounds together, over drawn meters: how often are they true?

The errors are drawn here by numpy: a zero error of each meter (stated at k = 2, drawn with a standard deviation of
half of it), a scale error, and the scatter of single readings. Nothing of the analysis is used to make them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.meter_model.stated_sources import MeterBudget
from benchd.analysis.uncertainty.quantity import Quantity, ratio
from benchd.analysis.uncertainty.rounding import bound_digits
from benchd.analysis.verdicts.claim_verdicts import Claim, check_claims
from tests.analysis.logs import Log, xyz

BLACKS_CD_M2 = (1e-4, 2e-4, 5e-4, 1e-3, 2e-3, 3e-3, 5e-3, 1e-2)
WHITE_CD_M2 = 400.0
ZERO, SCALE, SCATTER, READINGS = 0.001, 0.006, 4e-4, 5
TRIALS = 500
CHANCE = 3.0 * math.sqrt(0.95 * 0.05 / TRIALS)


def step(name: str, readings: np.ndarray, code: int, metrology: Metrology) -> StepData:
    """One step as a log has it, of one chromaticity."""
    several = np.array([xyz(float(value)) for value in readings])
    cov = np.cov(several.T)
    covariance = (cov[0, 0], cov[1, 1], cov[2, 2], cov[0, 1], cov[0, 2], cov[1, 2])
    mean = several.mean(axis=0)
    n = len(readings)
    return StepData(
        name, "luminance", {}, (code,) * 3, 8, "centre", (0.5, 0.5), n, n,
        (float(mean[0]), float(mean[1]), float(mean[2])), covariance, 0, 0, 0, ((1, n),), metrology=metrology,
    )  # fmt: skip


def ends(quantity: Quantity) -> tuple[float, float]:
    """What a statement says: the interval of a value, or one side of a bound."""
    assert quantity.value is not None
    if quantity.bound == "below":
        return 0.0, quantity.value
    if quantity.bound == "above":
        return quantity.value, math.inf
    assert quantity.interval is not None
    return quantity.interval


@pytest.mark.parametrize("black", BLACKS_CD_M2)
@pytest.mark.parametrize("floor", [None, 0.002])
def test_statements_about_black_and_contrast_hold(black: float, floor: float | None) -> None:
    dice = np.random.default_rng(round(1e6 * black))
    budget = MeterBudget("meter of the test", scale=SCALE, zero_cd_m2=ZERO)
    meter, true_contrast = MeterRange(floor), WHITE_CD_M2 / black
    held_black = held_contrast = wrongly_met = 0
    for _ in range(TRIALS):
        metrology = Metrology(budget)
        scale, zero = 1.0 + SCALE * dice.standard_normal(), ZERO * dice.standard_normal()
        dark = step("b", scale * black + zero + SCATTER * dice.standard_normal(READINGS), 0, metrology)
        lit = step("w", scale * WHITE_CD_M2 + zero + 0.2 * dice.standard_normal(3), 255, metrology)
        white, low = luminance_of(lit, meter), luminance_of(dark, meter)
        found, contrast = ends(low), ends(ratio(white, low))
        held_black += found[0] <= black <= found[1]
        held_contrast += contrast[0] <= true_contrast <= contrast[1]
        wrongly_met += contrast[0] > true_contrast
    assert held_black / TRIALS >= 0.95 - CHANCE
    assert held_contrast / TRIALS >= 0.95 - CHANCE
    # A claim just above the truth is met only where the lower end lies above it.
    assert wrongly_met / TRIALS <= 0.025 + 3.0 * math.sqrt(0.025 * 0.975 / TRIALS)


def test_a_claim_is_not_met_by_a_bound_that_forgot_the_zero_error() -> None:
    """Readings -.0003 to -.0001 with a zero of .002 at k = 2: at most .00197, so 400 over it is about 200 000:1."""
    blocks = [{"name": "contrast", "kind": "contrast", "kinds": ["sequential"]}]
    log = Log(blocks, uncertainty={"k": 2.0, "zero_cd_m2": 0.002, "calibration_percent": 1.0})
    for level, values, code in (("white", (400.0,) * 3, 255), ("black", (-0.0003, -0.0002, -0.0001), 0)):
        labels = {"kind": "sequential", "level": level}
        log.measure(f"contrast/{level}", labels, [xyz(value) for value in values], code=code)
    results = analyse(log.end())
    contrast = next(one for one in headlines(results) if one.name == "contrast").quantity
    assert (contrast.bound, bound_digits(contrast)) == ("above", 200_000.0)
    outcomes = {
        low: check_claims([Claim("contrast", low, None, "1", "", "", "")], [results])[0].outcome
        for low in (100_000.0, 500_000.0)
    }
    assert outcomes[100_000.0] == "met"
    assert outcomes[500_000.0] not in ("met", "not met")
