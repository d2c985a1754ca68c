"""Axes: where a value lies, and which values are named."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchd.report.drawing.axis import Axis, Kind, round_numbers, written

KINDS: tuple[Kind, ...] = ("linear", "logarithmic", "logarithmic from 1")
SIZES = st.floats(1e-6, 1e6)


@given(st.sampled_from(KINDS), st.lists(SIZES, min_size=2, max_size=20))
def test_values_lie_between_the_ends_in_their_own_order(kind: Kind, values: list[float]) -> None:
    place = Axis(kind=kind).around(values).place()
    places = [place(value) for value in sorted(values)]
    assert all(at is not None and 0.0 <= at <= 1.0 for at in places)
    assert places == sorted(places, key=lambda at: at or 0.0)


@given(st.sampled_from(KINDS), st.lists(SIZES, min_size=1, max_size=20), st.integers(2, 9))
def test_two_values_are_named_at_least_each_where_it_stands(kind: Kind, values: list[float], most: int) -> None:
    axis = Axis(kind=kind).around(values)
    low, high = axis.ends
    named = axis.named(most)
    assert len(named) >= 2
    assert len({name for _, name in named}) == len(named), "no two are alike"
    slack = 1e-6 * (high - low)
    for value, name in named:
        assert low - slack <= value <= high + slack
        assert float(name.replace("−", "-")) == pytest.approx(value, rel=1e-5, abs=slack)


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6), st.integers(2, 9))
def test_round_numbers_are_evenly_apart_and_not_too_many(low: float, length: float, most: int) -> None:
    assume(length > 1e-6 * abs(low))
    values = [value for value, _ in round_numbers(low, low + length, most)]
    assert 2 <= len(values) <= max(most, 4)
    steps = [after - before for before, after in pairwise(values)]
    assert all(math.isclose(step, steps[0], rel_tol=1e-6) for step in steps)


@pytest.mark.parametrize(("low", "high"), [(0.476, 0.496), (0.3, 2.5), (0.002, 300.0), (4.0, 6.0)])
def test_a_logarithmic_axis_names_two_values_at_least(low: float, high: float) -> None:
    assert len(Axis("", low, high, "logarithmic").named(5)) >= 2


def test_a_scale_is_logarithmic_where_it_says_so() -> None:
    place = Axis("", 1.0, 100.0, "logarithmic").place()
    assert place(10.0) == pytest.approx(0.5)
    assert place(0.0) is None, "there is no place for it"
    assert place(-math.inf) == 0.0
    assert place(math.inf) == 1.0
    mixed = Axis("", 0.0, 100.0, "logarithmic from 1").place()
    assert [mixed(value) for value in (0.0, 0.5, 1.0, 10.0, 100.0)] == pytest.approx([0, 1 / 6, 1 / 3, 2 / 3, 1])


def test_an_axis_may_run_downwards() -> None:
    place = Axis("", 4.5, -0.5).place()
    assert place(0.0) == pytest.approx(0.9)


def test_numbers_have_the_decimals_of_their_step() -> None:
    assert [written(value, 0.25) for value in (-0.5, 0.0, 0.25)] == ["−0.50", "0.00", "0.25"]
    assert written(-0.0, 1.0) == "0"
    assert written(2000.0, 500.0) == "2000"
