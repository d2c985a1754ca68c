"""The interval of a ratio: against its definition, against drawn errors, and in sums and differences."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.uncertainty.difference_interval import asymmetric_difference
from benchd.analysis.uncertainty.quantity import Quantity, derived, difference, mean, ratio, relabelled, scaled
from benchd.analysis.uncertainty.quotient import Quotient, fieller
from benchd.analysis.uncertainty.sources import Fixed, Source, Stated
from tests.oracles import optimize, stats

TOP, BOTTOM, SCALE = Source("top"), Source("bottom"), Source("scale", shared=True)


def light(value: float, *amounts: tuple[Source, float]) -> Quantity:
    return Quantity(value, "cd/m2", 3, sources=Fixed(amounts))


def stated(quantity: Quantity) -> Stated:
    found = quantity.stated
    assert found is not None
    return found


@pytest.mark.parametrize("dofs", [(2.0, 4.0), (4.0, math.inf), (math.inf, math.inf)])
@pytest.mark.parametrize("share", [0.01, 0.1, 0.3])
def test_ends_are_where_student_s_t_says(dofs: tuple[float, float], share: float) -> None:
    """Oracle: the definition, |a - r b| = t(.975, nu) u(a - r b) with Welch-Satterthwaite's nu, by SciPy."""
    a, b, u_a, u_b, scale = 400.0, 0.3, 2.0, share * 0.3, 0.01
    top, bottom = Source("top", dofs[0]), Source("bottom", dofs[1])
    low, high = fieller(a, b, {top: u_a, SCALE: scale * a}, {bottom: u_b, SCALE: scale * b})

    def excess(r: float) -> float:
        parts = (u_a**2, (r * u_b) ** 2)
        variance = sum(parts) + (scale * (a - r * b)) ** 2
        below = sum(part**2 / dof for part, dof in zip(parts, dofs, strict=True))
        dof = variance**2 / below if below else math.inf
        t = stats.t.ppf(0.975, dof) if math.isfinite(dof) else stats.norm.ppf(0.975)
        return float((a - r * b) ** 2 - t**2 * variance)

    assert low == pytest.approx(optimize.brentq(excess, 0.0, a / b), rel=2e-4)
    if share < 0.3 or dofs[1] > 4.0:
        assert high == pytest.approx(optimize.brentq(excess, a / b, 40.0 * a / b), rel=2e-4)


def test_a_divisor_that_may_be_zero_leaves_a_bound() -> None:
    got = ratio(light(400.0), light(0.3, (BOTTOM, 0.2)))
    assert (got.bound, got.value) == ("above", pytest.approx(400.0 / (0.3 + 1.95996 * 0.2), rel=1e-4))
    assert "the 95 % coverage interval of the divisor reaches zero" in got.why


def test_what_both_share_cancels_however_large() -> None:
    got = stated(ratio(light(400.0, (SCALE, 40.0), (TOP, 1.0)), light(0.3, (SCALE, 0.03))))
    assert got.k is not None
    assert got.expanded == pytest.approx(1.95996 * 400.0 / 0.3 * 1.0 / 400.0, rel=1e-4)


def test_a_well_known_ratio_keeps_its_coverage_factor_and_a_badly_known_one_its_ends() -> None:
    well = stated(ratio(light(400.0), light(0.3, (BOTTOM, 0.005))))
    assert (well.k, well.low) == (pytest.approx(1.96, abs=1e-3), pytest.approx(well.high - 2.0 * well.expanded))
    badly = stated(ratio(light(400.0), light(0.3, (BOTTOM, 0.1))))
    assert badly.k is None
    assert badly.high - 400.0 / 0.3 > 2.0 * (400.0 / 0.3 - badly.low) > 0.0


@given(st.floats(1.0, 1000.0), st.floats(1e-4, 1.0), st.floats(0.0, 0.5), st.floats(0.0, 3.0), st.floats(0.0, 0.1))
@settings(derandomize=True, max_examples=150, deadline=None)
def test_never_below_zero_and_always_about_the_ratio(a: float, b: float, u_a: float, u_b: float, scale: float) -> None:
    got = ratio(light(a, (TOP, u_a * a), (SCALE, scale * a)), light(b, (BOTTOM, u_b * b), (SCALE, scale * b)))
    if got.bound:
        assert got.value is not None
        assert 0.0 <= got.value <= a / b * (1.0 + 1e-9)
        return
    one = stated(got)
    assert 0.0 <= one.low <= a / b * (1.0 + 1e-9)
    assert one.high >= a / b * (1.0 - 1e-9)


@pytest.mark.parametrize("share", [0.01, 0.03, 0.1, 0.3, 0.6, 1.0, 3.0])
def test_statements_hold_from_a_hundredth_to_three_times_the_divisor(share: float) -> None:
    """Values and bounds together: at least 93 %, and at most 98 %."""
    dice = np.random.default_rng(11)
    truth = 400.0 / 0.3
    held = 0
    trials = 1000
    for z_top, z_bottom in dice.standard_normal((trials, 2)):
        u = share * 0.3 / 1.96
        a, b = 400.0 + 2.0 * z_top, 0.3 + u * z_bottom
        sources = Fixed(((BOTTOM, u),))
        if b - 1.96 * u <= 0.0:  # as a luminance does: a bound that knows what it was made from
            below = Quantity(max(b, 0.0) + 1.96 * u, "cd/m2", 3, None, "under", "below", sources=sources, estimate=b)
            got = ratio(light(a, (TOP, 2.0)), below)
        else:
            got = ratio(light(a, (TOP, 2.0)), Quantity(b, "cd/m2", 3, sources=sources))
        if got.bound:
            assert got.value is not None
            held += got.value <= truth
        else:
            held += stated(got).low <= truth <= stated(got).high
    chance = 3.0 * math.sqrt(0.95 * 0.05 / trials)
    assert held / trials >= 0.95 - chance
    assert held / trials <= 0.98 + chance


def test_an_affine_change_moves_the_ends_as_it_does_the_value() -> None:
    skew = ratio(light(400.0), light(0.3, (BOTTOM, 0.1)))
    percent, own = stated(scaled(skew, 100.0, "%", -100.0)), stated(skew)
    assert percent.k is None
    assert (percent.low, percent.high) == pytest.approx((100.0 * own.low - 100.0, 100.0 * own.high - 100.0))
    turned = stated(scaled(skew, -1.0, "1"))
    assert (turned.low, turned.high) == pytest.approx((-own.high, -own.low))


def test_independent_ratios_add_as_roots_of_squares_and_shared_ones_in_full() -> None:
    one = ratio(light(400.0), light(0.3, (BOTTOM, 0.1)))
    other = ratio(light(400.0), light(0.3, (Source("other"), 0.1)))
    own = stated(one)
    alike, apart_ = stated(mean((one, one), "1")), stated(mean((one, other), "1"))
    middle = 400.0 / 0.3
    assert (alike.low, alike.high) == pytest.approx((own.low, own.high))
    assert (middle - apart_.low) == pytest.approx((middle - own.low) / math.sqrt(2.0))
    assert (apart_.high - middle) == pytest.approx((own.high - middle) / math.sqrt(2.0))
    assert apart_.low > 0.0


def test_the_difference_of_two_contrasts_has_the_ends_of_both() -> None:
    """Two panels of one contrast, each read by a meter of its own: the true difference is 0 (drawn by numpy)."""
    dice = np.random.default_rng(12)
    held, trials = 0, 300
    for z in dice.standard_normal((trials, 2)):
        several = [
            relabelled(ratio(light(400.0), light(0.3 + 0.03 * one, (BOTTOM, 0.03))), f"{index}:")
            for index, one in enumerate(z)
        ]
        interval = asymmetric_difference(*several).interval
        assert interval is not None
        held += interval[0] <= 0.0 <= interval[1]
    assert 0.93 <= held / trials <= 0.99


def test_a_difference_of_lights_is_not_cut_at_zero_and_a_light_is() -> None:
    one, other = light(0.5, (TOP, 0.4)), light(0.3, (BOTTOM, 0.4))
    assert stated(difference(one, other)).low < 0.0
    assert stated(one).low == 0.0
    assert stated(derived(0.8, "cd/m2", ((1.0, one), (1.0, other)))).low == 0.0


def test_a_sum_with_a_ratio_without_an_upper_end_has_no_uncertainty_that_could_be_printed() -> None:
    """A change in % of a light whose own interval reaches zero: the infinite half ended a comparison's text."""
    node = Quotient(Fixed(((TOP, 1.5),)), Fixed(((Source("repeats", 5.0), 136.7),)), 300.0, 300.02)
    assert math.isinf(node.stated(node.read).high)  # type: ignore[union-attr]
    change = scaled(Quantity(node.read, "1", 3, sources=node), 100.0, "%", -100.0)
    assert change.stated is None


def test_bounds_count_what_the_other_part_may_be_off_by() -> None:
    """White over range, 200 at least, over a black of 0.03 +- 0.0098 (k 1.96): at least 200 / 0.0398, by hand."""
    over = Quantity(200.0, "cd/m2", 3, None, "over", "above")
    black = light(0.03, (BOTTOM, 0.005))
    got = ratio(over, black)
    assert (got.bound, got.value) == ("above", pytest.approx(200.0 / 0.0398, rel=1e-4))
    under = Quantity(0.005, "cd/m2", 3, None, "under", "below")
    white = ratio(light(400.0, (TOP, 10.0)), under)
    assert (white.bound, white.value) == ("above", pytest.approx((400.0 - 19.6) / 0.005, rel=1e-4))
    several = mean((under, black), "cd/m2")
    assert (several.bound, several.value) == ("below", pytest.approx((0.005 + 0.0398) / 2.0, rel=1e-4))


def test_a_bound_takes_the_ends_of_a_skew_part() -> None:
    """A contrast of 8000 whose ends are far apart, less one that is above 3200: at most the upper end less that."""
    skew = ratio(light(400.0), light(0.05, (BOTTOM, 0.02)))
    got = difference(skew, Quantity(3200.0, "1", 3, None, "under", "above"))
    assert (got.bound, got.value) == ("below", pytest.approx(stated(skew).high - 3200.0))


@pytest.mark.parametrize(("share", "limit", "dof"), [(0.36, 100_000.0, 4.0), (0.3, 10_000.0, 4.0), (0.1, 9000.0, 9.0)])
def test_the_probability_of_a_ratio_is_that_of_its_divisor(share: float, limit: float, dof: float) -> None:
    """Oracle: SciPy's t of the divisor, with an exact top: P(400 / b > limit) = P(b < 400 / limit)."""
    b = 0.05
    node = Quotient(Fixed(()), Fixed(((Source("bottom", dof), share * b),)), 400.0, b)
    wanted = float(stats.t.cdf((400.0 / limit - b) / (share * b), dof))
    assert node.chance_above(limit) == pytest.approx(wanted, rel=1e-6)
