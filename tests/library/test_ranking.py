"""Ranks and groups: who can be told apart from whom."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.library.conditions import interval
from benchd.library.entry import Figure
from benchd.library.ranking import Parts, distinguishable, rank
from benchd.library.store import StoredSample
from tests.library.test_conditions import figure, sample


def ranks(*figures: Figure, highest_first: bool = True) -> list[tuple[int | None, int]]:
    samples = [sample()._replace(id=number) for number in range(len(figures))]
    lines = rank(samples, dict(enumerate(figures)), highest_first=highest_first)
    return [(line.rank, line.sample.id) for line in lines]


def test_the_difference_of_independent_figures() -> None:
    """u(a - b) squared is the sum of the squares (JCGM 100:2008, 5.1.2, from memory): 3 and 4 make 5."""
    assert distinguishable(figure(105.1, 3.0), figure(100.0, 4.0)) is True
    assert distinguishable(figure(104.9, 3.0), figure(100.0, 4.0)) is False
    assert distinguishable(figure(100.0, 4.0), figure(105.1, 3.0)) is True, "in any order"
    assert distinguishable(figure(105.0), figure(100.0, 4.0)) is None


def test_halves_that_face_each_other_count() -> None:
    skewed = Figure(1.0, None, None, None, None, 0.2, 1.1, 3, None, "ok", None, "", "")
    assert distinguishable(figure(1.5, 0.0), skewed) is True
    assert distinguishable(figure(0.5, 0.0), skewed) is False


def test_groups_begin_with_the_best_that_is_left() -> None:
    figures = [figure(value, 1.0) for value in (100.0, 99.0, 98.0, 97.9, 90.0)]
    assert ranks(*figures) == [(1, 0), (1, 1), (3, 2), (3, 3), (5, 4)]
    assert ranks(*figures, highest_first=False) == [(1, 4), (2, 3), (2, 2), (2, 1), (5, 0)]


def test_bounds_are_open_on_one_side() -> None:
    assert distinguishable(figure(82000.0, bound="above"), figure(1100.0, 20.0)) is True
    assert distinguishable(figure(900.0, bound="above"), figure(1100.0, 20.0)) is False, "it may be more"
    assert distinguishable(figure(82000.0, bound="above"), figure(90000.0, bound="above")) is False
    assert distinguishable(figure(0.005, bound="below"), figure(0.3, 0.001)) is True
    assert ranks(figure(1100.0, 20.0), figure(82000.0, bound="above")) == [(1, 1), (2, 0)]


def test_without_an_uncertainty_there_is_no_rank() -> None:
    assert ranks(figure(3.0, 0.1), figure(2.0), figure(1.0, 0.1)) == [(1, 0), (None, 1), (3, 2)]
    assert ranks(figure(None), figure(2.0)) == [(None, 1)], "an absent figure has no line"


FIGURES = st.builds(
    figure, st.floats(-1000, 1000), st.none() | st.floats(0.0, 50.0), st.sampled_from([None, None, "above", "below"])
)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.lists(FIGURES, max_size=12), st.booleans())
def test_laws_of_a_ranking(figures: list[Figure], highest_first: bool) -> None:
    samples: list[StoredSample] = [sample()._replace(id=number) for number in range(len(figures))]
    lines = rank(samples, dict(enumerate(figures)), highest_first=highest_first)
    assert sorted(line.sample.id for line in lines) == list(range(len(figures)))
    values = [line.figure.value or 0.0 for line in lines]
    assert values == sorted(values, reverse=highest_first)
    leader: Figure | None = None
    for place, line in enumerate(lines, 1):
        assert (line.rank is None) == (interval(line.figure)[0] is None)
        if line.rank is None:
            continue
        if line.rank == place:
            assert leader is None or distinguishable(leader, line.figure)
            leader = line.figure
        else:
            assert leader is not None
            assert distinguishable(leader, line.figure) is False


@pytest.mark.parametrize("highest_first", [True, False])
def test_equal_values_keep_their_order(highest_first: bool) -> None:
    equal = [figure(5.0, 1.0)] * 3
    assert ranks(*equal, highest_first=highest_first) == [(1, 0), (1, 1), (1, 2)]


def parted(value: float, own: float, dof: float | None = None, **shared: float) -> tuple[Figure, Parts]:
    """A figure and the parts of its uncertainty: ``own`` with ``dof``, and shares of sources that others have too."""
    parts: dict[int, tuple[float, float | None]] = {0: (own, dof)}
    parts |= {int(name.removeprefix("s")): (amount, None) for name, amount in shared.items()}
    u = 1.96 * math.hypot(own, *shared.values())
    return figure(value, u), parts


def test_the_scale_of_one_meter_cancels_in_a_difference() -> None:
    """Fully correlated parts subtract with their signs (JCGM 100:2008, 5.2.2, note 1)."""
    first, a = parted(400.0, 0.3, s7=8.0)
    second, b = parted(398.0, 0.3, s7=7.96)
    assert distinguishable(first, second) is False, "as independent figures: U of the difference is 22 cd/m2"
    assert distinguishable(first, second, a, b) is True, (
        "with one meter it is 1.96 x hypot(0.3, 0.3, 0.04) = 0.84 cd/m2"
    )
    other, c = parted(398.0, 0.3, s8=7.96)
    assert distinguishable(first, other, a, c) is False, "another meter: nothing cancels"
    assert distinguishable(second, first, b, a) is True, "in any order"


def test_parts_that_move_figures_against_each_other_add_up() -> None:
    first, a = parted(10.0, 0.0, s1=1.0)
    second, b = parted(7.0, 0.0, s1=-1.0)
    assert distinguishable(first, second, a, b) is False, "1.96 x 2 is more than 3"


def test_few_readings_need_a_larger_factor() -> None:
    """Welch-Satterthwaite: two parts of 1 with 4 degrees of freedom have 8, and t is 2.306 (JCGM 100, table G.2)."""
    for difference, apart in ((2.306 * math.sqrt(2.0) - 0.01, False), (2.306 * math.sqrt(2.0) + 0.01, True)):
        first, a = parted(difference, 1.0, 4.0)
        second, b = parted(0.0, 1.0, 4.0)
        assert distinguishable(first, second, a, b) is apart


def test_a_ranking_uses_what_is_shared() -> None:
    pairs = [parted(value, 0.3, s7=0.02 * value) for value in (400.0, 398.0, 397.8)]
    samples = [sample()._replace(id=number) for number in range(3)]
    figures = {number: one for number, (one, _) in enumerate(pairs)}
    parts = {number: one for number, (_, one) in enumerate(pairs)}
    assert [line.rank for line in rank(samples, figures, highest_first=True)] == [1, 1, 1]
    assert [line.rank for line in rank(samples, figures, highest_first=True, parts=parts)] == [1, 2, 2]
