"""The course of a reference patch: exact cases, invariances, and that its uncertainty is true."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.drift.reference_curve import ReferenceCurve

TIMES = [5.0 * k for k in range(13)]
U = 0.0006


def test_readings_on_a_line_give_that_line() -> None:
    """Check values of linear drift compensation, common practice: L R(0) / R(t) is 50 exactly."""
    curve = ReferenceCurve([0.0, 10.0, 20.0], [100.0, 99.0, 98.0], [0.0, 0.0, 0.0])
    assert curve.model == "line"
    for minute, luminance in ((5.0, 49.75), (15.0, 49.25)):
        assert luminance * 100.0 / (100.0 + curve.change_at(minute).change) == pytest.approx(50.0, abs=1e-9)


def test_equal_readings_are_a_constant() -> None:
    curve = ReferenceCurve(TIMES, [1.0] * 13, [U] * 13)
    assert curve.model == "constant"
    assert curve.change_at(33.0).change == 0.0
    assert curve.start[1] == pytest.approx(1.0)


def test_without_noise_a_curve_goes_through_every_reading() -> None:
    values = [1.0 - 0.05 * math.exp(-minute / 10.0) for minute in TIMES]
    curve = ReferenceCurve(TIMES, values, [0.0] * 13)
    assert curve.model == "spline"
    begin = curve.start[1]
    for minute, value in zip(TIMES, values, strict=True):
        assert begin + curve.change_at(minute).change == pytest.approx(value, abs=2e-6)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.lists(st.floats(-0.03, 0.03), min_size=3, max_size=12), st.floats(0.5, 2000.0), st.floats(0.01, 100.0))
def test_units_of_light_and_time_do_not_matter(changes: list[float], light: float, unit: float) -> None:
    times = [float(k) for k in range(len(changes))]
    values = [1.0 + change for change in changes]
    one = ReferenceCurve(times, values, [U] * len(values))
    other = ReferenceCurve([t * unit for t in times], [v * light for v in values], [U * light] * len(values))
    assert one.model == other.model
    at = len(changes) / 2.3
    assert other.change_at(at * unit).change / light == pytest.approx(one.change_at(at).change, abs=2e-5)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.lists(st.floats(-0.03, 0.03), min_size=3, max_size=12), st.floats(0.0, 12.0))
def test_a_change_is_the_weighted_sum_of_the_readings(changes: list[float], at: float) -> None:
    values = [1.0 + change for change in changes]
    change = ReferenceCurve([float(k) for k in range(len(values))], values, [U] * len(values)).change_at(at)
    assert change.change == pytest.approx(sum(w * v for w, v in zip(change.weights, values, strict=True)), abs=1e-9)
    assert sum(change.weights) == pytest.approx(0.0, abs=1e-6), "a common scale error of the meter is no change"


@pytest.mark.parametrize(
    ("name", "least"),
    [("stable", 0.95), ("line", 0.93), ("warming", 0.92), ("swing", 0.93)],
)
def test_its_intervals_hold_the_truth(name: str, least: float) -> None:
    """200 drawn courses of each kind; the meter's noise alone is 0.06 %."""
    true = {
        "stable": lambda minute: 0.0 * minute,
        "line": lambda minute: 3e-4 * minute,
        "warming": lambda minute: -0.05 * np.exp(-minute / 10.0),
        "swing": lambda minute: 0.03 * np.sin(2.0 * np.pi * minute / 120.0),
    }[name]
    rng = np.random.default_rng(11)
    held, errors = [], []
    for _ in range(200):
        values = 1.0 + true(np.array(TIMES)) + rng.normal(0.0, U, len(TIMES))
        curve = ReferenceCurve(TIMES, values.tolist(), [U] * len(TIMES))
        at = float(rng.uniform(0.0, 62.0))
        change = curve.change_at(at)
        u = math.hypot(change.between, *(w * U for w in change.weights))
        error = change.change - float(true(at) - true(0.0))
        errors.append(error)
        held.append(abs(error) <= 1.96 * u + 1e-12)
    assert np.mean(held) >= least
    assert np.std(errors) <= 2.0 * U


def test_chance_is_seldom_taken_for_drift() -> None:
    rng = np.random.default_rng(5)
    models = [ReferenceCurve(TIMES, (1.0 + rng.normal(0.0, U, 13)).tolist(), [U] * 13).model for _ in range(400)]
    assert models.count("constant") >= 0.96 * 400


@pytest.mark.parametrize("times", [[0.0], [0.0, 0.0], [1.0, 0.5]])
def test_times_that_do_not_ascend_are_refused(times: list[float]) -> None:
    with pytest.raises(ValueError, match="one after the other"):
        ReferenceCurve(times, [1.0] * len(times), [U] * len(times))
