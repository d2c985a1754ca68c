"""The noise of single readings fitted from a whole log."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest

from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.noise.reading_noise import NoiseModel, fitted_noise, moderated
from sim.sensor import REFERENCE_INTEGRATION_S, SensorModel
from tests.analysis.logs import Log, xyz


def law(s0: float, a: float, r: float, dof: float = 100.0) -> NoiseModel:
    """The law of one sensor for Y and no scatter of the ratios beyond it."""
    fit = (s0 * s0, a * a, r * r)
    return NoiseModel((fit, fit, fit, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)), False, dof)


@pytest.mark.parametrize(("luminance", "percent"), [(0.01, 5.386), (0.1, 0.8124), (1.0, 0.2291), (100.0, 0.1020)])
def test_repeatability_against_luminance(luminance: float, percent: float) -> None:
    # u_rep^2 = s0^2 + (a sqrt L)^2 + (r L)^2, common practice; s0 5e-4, a 2e-3, r 1e-3, values by hand.
    covariance = law(5e-4, 2e-3, 1e-3).covariance((luminance, luminance, luminance), None)
    assert covariance is not None
    assert 100.0 * math.sqrt(covariance[1][1]) / luminance == pytest.approx(percent, abs=1e-3)


def steps(sensor: SensorModel, count: int, readings: int, seed: int = 1) -> list[StepData]:
    dice = Random(seed)
    found = []
    for number in range(count):
        luminance = 10.0 ** dice.uniform(-0.7, 2.6)
        xyz = (0.95 * luminance, luminance, 1.09 * luminance)
        seconds = sensor.integration_s(luminance)
        drawn = np.array(
            [
                sensor.disturbed(xyz, seconds, (dice.gauss(0, 1), dice.gauss(0, 1), dice.gauss(0, 1), dice.gauss(0, 1)))
                for _ in range(readings)
            ]
        )
        found.append(step(drawn, number, seconds))
    return found


def step(readings: np.ndarray, number: int = 0, seconds: float | None = 0.2) -> StepData:  # type: ignore[type-arg]
    c = np.cov(readings.T)
    n = len(readings)
    x, y, z = readings.mean(axis=0).tolist()
    return StepData(
        step=f"step-{number}",
        block="b",
        labels={},
        code=(0, 0, 0),
        bits=8,
        place="centre",
        at=(0.5, 0.5),
        n=n,
        figures=n,
        mean=(x, y, z),
        covariance=(c[0, 0], c[1, 1], c[2, 2], c[0, 1], c[0, 2], c[1, 2]),
        under=0,
        over=0,
        unstable=0,
        records=((number, number),),
        integration_s=seconds,
        metrology=Metrology(),
    )


@pytest.mark.parametrize("scale", [1e-3, 3e-3])
@pytest.mark.parametrize("luminance", [0.3, 3.0, 30.0, 300.0])
def test_three_readings_a_step_teach_the_law_of_the_meter(scale: float, luminance: float) -> None:
    sensor = SensorModel(scale=scale)
    model = fitted_noise(steps(sensor, 120, 3))
    assert model is not None
    assert model.timed
    assert model.dof > 60.0, "the steps scatter as the law says"
    seconds = sensor.integration_s(luminance)
    xyz = (0.95 * luminance, luminance, 1.09 * luminance)
    x, y, _ = xyz
    found = model.covariance(xyz, seconds)
    assert found is not None
    assert math.sqrt(found[1][1]) == pytest.approx(sensor.repeatability_cd_m2(luminance, seconds), rel=0.15)
    # The ratio X / Y scatters by the channels' own noise only, however much the scale scatters.
    of_ratio = found[0][0] / x**2 + found[1][1] / y**2 - 2.0 * found[0][1] / (x * y)
    own = sum(sensor.dark_cd_m2**2 / one**2 + sensor.shot**2 / one for one in (x, y))
    assert math.sqrt(of_ratio) == pytest.approx(math.sqrt(own * REFERENCE_INTEGRATION_S / seconds), rel=0.2)
    assert np.linalg.eigvalsh(np.array(found)).min() >= -1e-15


def test_too_few_steps_or_no_scatter_teach_nothing() -> None:
    assert fitted_noise(steps(SensorModel(), 5, 3)) is None
    still = np.array([(95.0, 100.0, 109.0)] * 3)
    assert fitted_noise([step(still, number) for number in range(30)]) is None


def test_steps_that_each_scatter_their_own_way_count_for_themselves() -> None:
    dice = Random(4)
    several = []
    for number in range(100):
        size = 10.0 ** dice.uniform(-4.0, -2.0)  # flicker, say: nothing to do with the light
        readings = [[100.0 * (1.0 + size * dice.gauss(0, 1)) for _ in range(3)] for _ in range(5)]
        several.append(step(np.array(readings), number))
    model = fitted_noise(several)
    assert model is not None
    assert model.dof < 4.0


def test_a_step_far_noisier_than_the_law_stands_alone() -> None:
    model = law(0.0, 0.0, 1e-3, dof=200.0)
    calm, wild = (0.01, 0.01, 0.01, 0.0, 0.0, 0.0), (9.0, 9.0, 9.0, 8.9, 8.9, 8.9)
    xyz = (100.0, 100.0, 100.0)
    drawn = moderated(calm, 2, xyz, None, model)
    assert drawn is not None
    assert drawn[1] == pytest.approx(202.0)
    assert drawn[0][1][1] == pytest.approx((200.0 * 0.01 + 2 * 0.01) / 202.0)
    alone = moderated(wild, 2, xyz, None, model)
    assert alone is not None
    assert (alone[0][1][1], alone[1]) == (9.0, 2.0)


def test_one_reading_has_the_scatter_of_the_others() -> None:
    found = moderated(None, 0, (100.0, 100.0, 100.0), None, law(0.0, 0.0, 1e-3))
    assert found is not None
    assert (found[0][1][1], found[1]) == (pytest.approx(0.01), 100.0)
    assert moderated(None, 0, (100.0, 100.0, 100.0), None, None) is None, "and without any, none is known"


def test_steps_near_zero_that_follow_no_law_leave_no_model_and_no_error() -> None:
    """Sixty blacks about zero and sixty whites that scatter by a seventh: the fit had been asked for 0 / 0."""
    dice = np.random.default_rng(70)
    log = Log([])
    for index in range(60):
        for name, middle, s in (("white", 400.0, 60.0), ("black", 0.001, 0.002)):
            values = [xyz(float(value)) for value in dice.normal(middle, s, 4)]
            log.measure(f"contrast{index}/{name}", {"level": name}, values, code=255 if name == "white" else 0)
    for one in collect(log.end()).measured.values():
        found = one.vectors()
        assert found is not None
        assert all(math.isfinite(part) for _, vector in found for part in vector)
