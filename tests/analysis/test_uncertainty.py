"""The mechanism of uncertainty against published worked examples, quantiles of a reference library, and Monte Carlo."""

from __future__ import annotations

import math
from statistics import fmean, stdev

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.uncertainty.quantity import (
    Quantity,
    absent,
    derived,
    difference,
    mean,
    product,
    propagated,
    ratio,
    relabelled,
)
from benchd.analysis.uncertainty.sources import (
    EXACT,
    Contributions,
    Fixed,
    OfLight,
    Source,
    coverage_factor,
    effective_dof,
    gradient_of,
    lower_triangle,
    standard,
)
from tests.oracles import stats

A, B, C = Source("a"), Source("b"), Source("c")
SCALE = Source("meter scale", shared=True)


def figure(value: float, unit: str = "1", **sources: float) -> Quantity:
    """A quantity with sources of infinite degrees of freedom, by name."""
    return Quantity(value, unit, 3, sources=Fixed(tuple((Source(name), u) for name, u in sources.items())))


def measured(readings: list[tuple[float, float, float]], metrology: Metrology | None = None) -> StepData:
    array = np.array(readings)
    c = np.cov(array.T)
    covariance = (c[0, 0], c[1, 1], c[2, 2], c[0, 1], c[0, 2], c[1, 2])
    n = len(readings)
    x, y, z = array.mean(axis=0).tolist()
    return StepData(
        "step", "b", {}, (0, 0, 0), 8, "centre", (0.5, 0.5), n, n, (x, y, z), covariance, 0, 0, 0, ((1, n),),
        metrology=metrology or Metrology(),
    )  # fmt: skip


# JCGM 100:2008


GUM_4_4_3 = [
    *(96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07),
    *(100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72),
]
"""Twenty temperatures of JCGM 100:2008, 4.4.3 (data from memory; mean and deviations as printed)."""


def test_type_a_of_a_mean_after_gum_4_4_3() -> None:
    step = measured([(one * 0.95, one, one * 1.09) for one in GUM_4_4_3])
    luminance = Quantity(fmean(GUM_4_4_3), "cd/m2", 20, sources=OfLight(step, "Y"))
    assert luminance.value == pytest.approx(100.145, abs=5e-4)
    assert stdev(GUM_4_4_3) == pytest.approx(1.489, abs=5e-4)
    assert luminance.u == pytest.approx(0.333, abs=5e-4)
    stated = luminance.stated
    assert stated is not None
    assert stated.dof == pytest.approx(19)
    assert stated.k == pytest.approx(2.093, abs=5e-4), "JCGM 100, table G.2"


def test_effective_degrees_of_freedom_of_the_end_gauge_h_1() -> None:
    # JCGM 100:2008, H.1, table H.1 (from memory): components in nm with their degrees of freedom, nu_eff = 16.
    parts = {Source("ls", 18): 25.0, Source("d", 25.6): 9.7, Source("da", 50): 2.9, Source("dt", 2): 16.6}
    assert standard(parts) == pytest.approx(32, abs=0.5)
    assert math.floor(effective_dof(parts)) == 16


def test_correlated_means_of_h_2() -> None:
    """JCGM 100:2008, H.2 (from memory): R, X, Z of five sets of V, I, phi, and how they go together."""
    v = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
    i = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
    phi = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])
    data = np.array([v, i, phi])
    factor = lower_triangle((np.cov(data) / 5).tolist())
    quantities = [
        Quantity(float(row.mean()), "1", 5, sources=Fixed(tuple((Source("set", 4, k), one[k]) for k in range(3))))
        for row, one in zip(data, factor, strict=True)
    ]
    resistance = propagated(lambda a, b, c: a / b * math.cos(c), "1", quantities)
    reactance = propagated(lambda a, b, c: a / b * math.sin(c), "1", quantities)
    impedance = propagated(lambda a, b, c: a / b, "1", quantities)
    assert (resistance.value, resistance.u) == (pytest.approx(127.732, abs=5e-4), pytest.approx(0.071, abs=5e-4))
    assert (reactance.value, reactance.u) == (pytest.approx(219.847, abs=5e-4), pytest.approx(0.295, abs=1e-3))
    assert (impedance.value, impedance.u) == (pytest.approx(254.260, abs=5e-4), pytest.approx(0.236, abs=5e-4))
    assert correlation(resistance, reactance) == pytest.approx(-0.588, abs=1.5e-3)
    assert correlation(resistance, impedance) == pytest.approx(-0.485, abs=1.5e-3)
    assert correlation(reactance, impedance) == pytest.approx(0.993, abs=1e-3)


def correlation(first: Quantity, second: Quantity) -> float:
    one, other = contributions(first), contributions(second)
    shared = sum(amount * other.get(source, 0.0) for source, amount in one.items())
    return shared / (standard(one) * standard(other))


def contributions(quantity: Quantity) -> Contributions:
    assert quantity.sources is not None
    found = quantity.sources.contributions()
    assert found is not None
    return found


@pytest.mark.parametrize(("nu", "t"), [(1, 12.7062), (4, 2.7764), (9, 2.2622), (16, 2.1199)])
def test_t_at_95_percent(nu: int, t: float) -> None:
    # JCGM 100:2008, table G.2, with more digits.
    assert coverage_factor(nu) == pytest.approx(t, abs=5e-5)


@pytest.mark.parametrize("nu", [2.5, 3.7, 7.1, 19.9, 150.5, 1e6, math.inf])
def test_t_between_whole_degrees_of_freedom(nu: float) -> None:
    assert coverage_factor(nu) == pytest.approx(stats.t.ppf(0.975, nu), rel=0.02 if nu < 3 else 5e-3)


# the mechanism


def test_contrast_of_random_parts() -> None:
    # Published rule for a ratio, u(C)/C = sqrt((u_w/Lw)^2 + (u_b/Lb)^2); value by hand.
    white, black = figure(412.0, "cd/m2", w=1.0), figure(0.250, "cd/m2", b=0.003)
    contrast = ratio(white, black)
    assert contrast.value == pytest.approx(1648.0)
    assert contrast.u == pytest.approx(20.18, abs=0.01)


@given(
    white=st.floats(1.0, 1000.0),
    black=st.floats(1e-3, 1.0),
    scale=st.floats(1e-4, 0.1),
    noise=st.floats(1e-5, 1e-2),
)
@settings(derandomize=True)
def test_the_scale_cancels_in_a_ratio_and_stays_in_the_parts(
    white: float, black: float, scale: float, noise: float
) -> None:
    def light(value: float, name: str) -> Quantity:
        return Quantity(value, "cd/m2", sources=Fixed(((SCALE, scale * value), (Source(name), noise * value))))

    top, bottom = light(white, "top"), light(black, "bottom")
    both = ratio(top, bottom)
    assert both.u == pytest.approx(math.sqrt(2.0) * noise * white / black, rel=1e-6)
    assert top.u == pytest.approx(math.hypot(scale, noise) * white, rel=1e-9)
    summed = mean([top, light(white, "other")], "cd/m2")
    assert summed.u == pytest.approx(math.hypot(scale, noise / math.sqrt(2.0)) * white, rel=1e-9)
    assert ratio(top, top).u == pytest.approx(0.0, abs=1e-12)


@given(
    values=st.tuples(*(st.floats(0.5, 5.0) for _ in range(3))),
    relative=st.tuples(*(st.floats(1e-4, 0.01) for _ in range(3))),
)
@settings(derandomize=True, max_examples=30)
def test_linear_propagation_is_monte_carlo_for_nearly_linear_functions(
    values: tuple[float, float, float], relative: tuple[float, float, float]
) -> None:
    def function(a: float, b: float, c: float) -> float:
        return math.sqrt(a * a + b * c) / (1.0 + c)

    us = [one * share for one, share in zip(values, relative, strict=True)]
    parts = [figure(one, **{name: u}) for one, u, name in zip(values, us, "abc", strict=True)]
    drawn = np.random.default_rng(3).normal(values, us, (4000, 3))
    results = np.sqrt(drawn[:, 0] ** 2 + drawn[:, 1] * drawn[:, 2]) / (1.0 + drawn[:, 2])
    assert propagated(function, "1", parts).u == pytest.approx(float(results.std()), rel=0.06)


def test_parts_without_known_sources_leave_the_result_without() -> None:
    known, unknown = figure(1.0, a=0.1), Quantity(2.0, "1", 3)
    assert product(known, unknown, "1").stated is None
    assert derived(1.0, "1", ((1.0, known), (0.0, unknown))).u == pytest.approx(0.1), (
        "what does not matter may be unknown"
    )
    assert absent("1", "nothing").stated is None
    assert Quantity(1.0, "1", sources=EXACT).u == 0.0


def test_a_bound_has_no_uncertainty() -> None:
    below = Quantity(0.005, "cd/m2", 5, None, "under", "below", "dark", sources=EXACT)
    contrast = ratio(figure(400.0, a=1.0), below)
    assert contrast.bound == "above"
    assert contrast.stated is None
    assert contrast.u is None
    assert contrast.interval is None


def test_light_is_never_negative_but_a_difference_may_be() -> None:
    dim = figure(0.001, "cd/m2", a=0.001)
    assert dim.interval == (0.0, pytest.approx(0.001 + 1.96e-3, abs=1e-6))
    change = difference(dim, figure(0.002, "cd/m2", b=0.001))
    assert change.interval is not None
    assert change.interval[0] < 0.0


def test_two_logs_of_one_meter_share_its_scale_only() -> None:
    def one_log() -> Quantity:
        return Quantity(400.0, "cd/m2", sources=Fixed(((SCALE, 4.0), (Source("readings of luminance/white"), 1.0))))

    first, second = relabelled(one_log(), "first: "), relabelled(one_log(), "second: ")
    assert difference(first, second).u == pytest.approx(math.sqrt(2.0)), "the scale cancels, the readings do not"
    assert difference(one_log(), one_log()).u == pytest.approx(0.0), "and so the labels matter"


# the light of a step


@given(st.tuples(*(st.floats(0.1, 500.0) for _ in range(3))))
@settings(derandomize=True)
def test_gradients_of_the_named_formulae(xyz: tuple[float, float, float]) -> None:
    def formula(name: str, x: float, y: float, z: float) -> float:
        if name in "xy":
            return (x if name == "x" else y) / (x + y + z)
        return (4.0 * x if name == "u'" else 9.0 * y) / (x + 15.0 * y + 3.0 * z)

    for name in ("x", "y", "u'", "v'"):
        for axis, slope in enumerate(gradient_of(name, xyz)):
            h = 1e-5 * xyz[axis]
            up, down = ([*xyz[:axis], xyz[axis] + way * h, *xyz[axis + 1 :]] for way in (1.0, -1.0))
            by_hand = (formula(name, *up) - formula(name, *down)) / (2.0 * h)
            assert slope == pytest.approx(by_hand, rel=1e-4, abs=1e-9)


def test_luminance_and_chromaticity_of_a_step_go_together_as_its_readings_do() -> None:
    dice = np.random.default_rng(5)
    spread = [[4.0, 3.0, 2.0], [3.0, 4.0, 2.5], [2.0, 2.5, 5.0]]
    step = measured([tuple(row) for row in dice.multivariate_normal((95.0, 100.0, 109.0), spread, 400).tolist()])
    assert step.covariance is not None
    y, x = OfLight(step, "Y").contributions(), OfLight(step, (1.0, 0.0, 0.0)).contributions()
    assert y is not None
    assert x is not None
    assert sum(y[source] * x[source] for source in y) == pytest.approx(step.covariance[3] / 400)
    assert standard(x) ** 2 == pytest.approx(step.covariance[0] / 400)
    assert sum(1 for amount in y.values() if amount) == 1, "luminance is the first part alone"


def test_a_matrix_without_full_rank_has_a_factor() -> None:
    factor = np.array(lower_triangle([[4.0, 2.0, 0.0], [2.0, 1.0, 0.0], [0.0, 0.0, 0.0]]))
    assert factor @ factor.T == pytest.approx(np.array([[4.0, 2.0, 0.0], [2.0, 1.0, 0.0], [0.0, 0.0, 0.0]]))
