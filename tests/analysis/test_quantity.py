"""Values and bounds through all arithmetic, against plain interval arithmetic."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.uncertainty import quantity as q
from benchd.analysis.uncertainty import rounding
from benchd.analysis.uncertainty.quantity import Quantity

EXACT = settings(derandomize=True, max_examples=200, deadline=None)

positive = st.floats(min_value=1e-3, max_value=1e3)
quantities = st.builds(
    lambda value, bound: Quantity(value, "cd/m2", 3, 0.0, bound=bound),
    positive,
    st.sampled_from([None, "above", "below"]),
)


def truths(quantity: Quantity) -> list[float]:
    """Some true values that the quantity allows."""
    assert quantity.value is not None
    if quantity.bound == "above":
        return [quantity.value * f for f in (1.0001, 2.0, 1e4)]
    if quantity.bound == "below":
        return [quantity.value * f for f in (0.9999, 0.5, 1e-4)]
    return [quantity.value]


def allows(quantity: Quantity, truth: float) -> bool:
    assert quantity.value is not None
    slack = 1e-9 * max(1.0, abs(truth), abs(quantity.value))
    if quantity.bound == "above":
        return truth >= quantity.value - slack
    if quantity.bound == "below":
        return truth <= quantity.value + slack
    return abs(truth - quantity.value) <= slack


@pytest.mark.parametrize(
    ("made", "true"),
    [
        (q.ratio, lambda a, b: a / b),
        (lambda a, b: q.product(a, b, "1"), lambda a, b: a * b),
        (q.difference, lambda a, b: a - b),
        (lambda a, b: q.log(q.ratio(a, b)), lambda a, b: math.log(a / b)),
        (lambda a, b: q.scaled(q.ratio(a, b), -100.0, "%", 100.0), lambda a, b: 100.0 - 100.0 * a / b),
        (lambda a, b: q.mean([a, b], "cd/m2"), lambda a, b: (a + b) / 2.0),
        (lambda a, b: q.maximum([a, b], "cd/m2"), max),
        (lambda a, b: q.minimum([a, b], "cd/m2"), min),
        (lambda a, b: q.propagated(lambda x, y: x / (x + y), "1", [a, b]), lambda a, b: a / (a + b)),
    ],
)
@given(first=quantities, second=quantities)
@EXACT
def test_every_truth_that_the_parts_allow_is_allowed_by_the_result(
    made: Callable[[Quantity, Quantity], Quantity],
    true: Callable[[float, float], float],
    first: Quantity,
    second: Quantity,
) -> None:
    result = made(first, second)
    if result.value is None:
        assert result.status == "absent"
        assert result.why
        assert first.bound or second.bound  # values alone always have an answer
        return
    for a in truths(first):
        for b in truths(second):
            assert allows(result, true(a, b)), (result, a, b)


@given(first=positive, second=positive)
@EXACT
def test_a_value_over_a_below_bound_is_an_above_bound(first: float, second: float) -> None:
    result = q.ratio(Quantity(first, "cd/m2"), Quantity(second, "cd/m2", bound="below", status="under"))
    assert (result.bound, result.status) == ("above", "under")
    turned = q.ratio(Quantity(first, "cd/m2", bound="below"), Quantity(second, "cd/m2", bound="below"))
    assert turned.status == "absent"


@given(value=st.floats(min_value=1e-8, max_value=1e8), bound=st.sampled_from(["above", "below"]))
@EXACT
def test_bounds_are_rounded_outward_to_two_digits(value: float, bound: q.Bound) -> None:
    shown = rounding.bound_digits(Quantity(value, "1", bound=bound))
    assert shown is not None
    assert float(f"{shown:.1e}") == shown
    assert abs(shown - value) <= 0.1 * value
    tail = 1e-14 * value  # what a double does not carry for certain is not rounded
    assert shown <= value + tail if bound == "above" else shown >= value - tail


@pytest.mark.parametrize(
    ("value", "bound", "shown"),
    [
        (550915.4, "above", 550000.0),
        (82400.0, "above", 82000.0),
        (0.005, "below", 0.005),
        (0.00501, "below", 0.0051),
        (0.999, "below", 1.0),
        (-9.66, "below", -9.6),
        (-9.66, "above", -9.7),
        (82000.0, "above", 82000.0),
        (0.0, "above", 0.0),
    ],
)
def test_bound_digits(value: float, bound: q.Bound, shown: float) -> None:
    assert rounding.bound_digits(Quantity(value, "1", bound=bound)) == shown


def test_a_value_keeps_its_digits() -> None:
    assert rounding.bound_digits(Quantity(3.14159, "1")) == 3.14159
    assert rounding.bound_digits(q.absent("1", "no reason")) is None


@pytest.mark.parametrize(
    ("value", "up", "text"),
    [
        (0.00994, True, "0.01"),
        (0.00641, True, "0.0065"),
        (0.00641, False, "0.0064"),
        (0.005, True, "0.005"),
        (4.51e-5, True, "0.000046"),
        (-0.00641, True, "-0.0064"),
        (0.0, False, "0"),
        (123.0, False, "120"),
    ],
)
def test_the_end_of_an_interval_is_never_rounded_into_it(value: float, up: bool, text: str) -> None:
    assert rounding.plain_text(rounding.rounded_outward(value, up=up)) == text


def test_contrast_scatter() -> None:
    """Worked by hand: Lw 412.0 (1.0) over Lb 0.250 (0.003) is 1648.00 (20.18); the rule is JCGM 100, 5.1."""
    result = q.ratio(Quantity(412.0, "cd/m2", 3, 1.0), Quantity(0.25, "cd/m2", 5, 0.003))
    assert result.value == pytest.approx(1648.0, abs=0.01)
    assert result.s == pytest.approx(20.18, abs=0.01)
    assert result.n == 3


def test_propagated_agrees_with_the_closed_forms() -> None:
    a, b = Quantity(412.0, "cd/m2", 3, 1.0), Quantity(0.25, "cd/m2", 5, 0.003)
    closed, numeric = q.ratio(a, b), q.propagated(lambda x, y: x / y, "1", [a, b])
    assert closed.s is not None
    assert numeric.value == closed.value
    assert numeric.s == pytest.approx(closed.s, rel=1e-6)


def test_no_scatter_without_scatter_of_all_parts_or_for_a_bound() -> None:
    assert q.ratio(Quantity(1.0, "1", 1, None), Quantity(2.0, "1", 3, 0.1)).s is None
    assert q.ratio(Quantity(1.0, "1", 3, 0.1), Quantity(2.0, "1", 3, 0.1, bound="below")).s is None


def test_zero_divisor_and_nothing_measured_are_absent_with_a_reason() -> None:
    result = q.ratio(Quantity(1.0, "1"), Quantity(0.0, "1", why="reads zero"))
    assert result.status == "absent"
    assert result.why == "reads zero; the divisor is not above zero"
    assert q.log(Quantity(0.0, "1")).status == "absent"
    for empty in (q.mean([], "1"), q.maximum([], "1"), q.minimum([], "1")):
        assert empty.why == "nothing was measured"


def test_absence_and_worst_status_carry_through() -> None:
    gone = q.absent("cd/m2", "cell r1c1 was not measured", ((4, 6),))
    seen = Quantity(5.0, "cd/m2", 3, 0.1, status="unstable", why="1 of 3 readings were unstable", records=((7, 9),))
    for result in (q.ratio(seen, gone), q.mean([seen, gone], "cd/m2"), q.maximum([gone, seen], "cd/m2")):
        assert result.status == "absent"
        assert "cell r1c1 was not measured" in result.why
        assert result.records == ((4, 9),)
    assert q.ratio(seen, Quantity(2.0, "cd/m2", 3, 0.1)).status == "unstable"


def test_a_difference_of_colour_needs_values() -> None:
    bounded = Quantity(1.0, "cd/m2", bound="below", status="under", why="under range")
    assert q.composed(2.0, "1", [Quantity(1.0, "1"), bounded]).why == "under range"
    assert q.composed(2.0, "1", [Quantity(1.0, "1", 3, 0.1)]).s is None


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 5)), max_size=12))
@EXACT
def test_merged_ranges_hold_the_same_numbers(pairs: list[tuple[int, int]]) -> None:
    ranges = tuple((first, first + length) for first, length in pairs)
    joined = q.merged([ranges[::2], ranges[1::2]])
    numbers = {n for first, last in ranges for n in range(first, last + 1)}
    assert {n for first, last in joined for n in range(first, last + 1)} == numbers
    assert all(one[1] + 1 < other[0] for one, other in pairwise(joined))
