"""Sequential and checkerboard contrast: worked examples, bounds, missing cells."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_light import MeterRange
from benchd.analysis.uncertainty.rounding import bound_digits
from benchd.measurements.contrast.analysis import contrast
from benchd.measurements.contrast.results import Contrast
from tests.analysis.logs import Log, xyz

BLOCK = {"name": "contrast", "kind": "contrast", "kinds": ["sequential", "checkerboard"], "columns": 4, "rows": 4}
WHITES = (388.0, 392.0, 395.0, 390.0, 391.0, 389.0, 394.0, 393.0)  # invented; means by hand
BLACKS = (0.41, 0.39, 0.40, 0.42, 0.38, 0.40, 0.41, 0.39)


def sequential(log: Log, white: list[Any], black: list[Any], black_status: str = "ok") -> None:
    log.measure("contrast/white", {"kind": "sequential", "level": "white"}, white)
    log.measure("contrast/black", {"kind": "sequential", "level": "black"}, black, code=0, status=black_status)


def checker(
    log: Log, polarity: str, whites: tuple[float, ...], blacks: tuple[float, ...], *, leave_out: tuple[str, ...] = ()
) -> None:
    white, black = iter(whites), iter(blacks)
    word = "checker" if polarity == "normal" else "checker-inverse"
    for row in range(1, 5):
        for column in range(1, 5):
            lit = ((row + column) % 2 == 0) == (polarity == "normal")
            value = next(white) if lit else next(black)
            place = f"r{row}c{column}"
            if place in leave_out:
                continue
            labels = {
                "kind": "checkerboard",
                "polarity": polarity,
                "row": row,
                "column": column,
                "level": "white" if lit else "black",
            }
            log.measure(f"contrast/{word}/{place}", labels, [xyz(value)] * 3, code=255 if lit else 0)


def analysed(log: Log, meter: MeterRange | None = None) -> Contrast:
    return contrast(collect(log.end()), BLOCK, meter or MeterRange())


def test_sequential_ratio_with_scatter() -> None:
    log = Log([BLOCK])
    sequential(log, [xyz(411.0), xyz(412.0), xyz(413.0)], [xyz(0.247), xyz(0.250), xyz(0.253)])
    got = analysed(log).sequential
    assert got is not None
    assert got.ratio.value == pytest.approx(1648.0, abs=0.01)  # worked by hand; JCGM 100, 5.1
    assert got.ratio.s == pytest.approx(20.18, abs=0.01)
    assert (got.ratio.n, got.ratio.records) == (3, ((3, 5), (8, 10)))
    assert got.missing == ""
    assert got.ratio.stated is not None
    assert got.ratio.stated.k is not None  # black is known to 3 %: the interval has equal halves to two digits


def test_white_darker_than_black_is_said() -> None:
    log = Log([BLOCK])
    sequential(log, [xyz(0.25)] * 3, [xyz(412.0)] * 3)
    got = analysed(log).sequential
    assert got is not None
    assert "white reads darker than black" in got.ratio.why
    assert got.ratio.value == pytest.approx(0.25 / 412.0)


@pytest.mark.parametrize(
    ("floor", "zero", "shown"), [(None, 0.0, 470_000.0), (0.005, 0.0, 82_000.0), (None, 0.002, 170_000.0)]
)
def test_black_in_the_noise_gives_a_bound(floor: float | None, zero: float, shown: float) -> None:
    """Worked by hand, t of NIST/SEMATECH 1.3.6.7.2: black at most .000871165, with the range beginning at .005 that,
    with a zero error of .002 at k = 2 .0023363; never 1 211 765:1.
    """
    log = Log([BLOCK], uncertainty={"k": 2.0, "zero_cd_m2": zero} if zero else None)
    black = [xyz(value) for value in (0.0006, -0.0002, 0.0009, 0.0001, 0.0003)]
    sequential(log, [xyz(412.0)] * 3, black)
    got = analysed(log, MeterRange(floor)).sequential
    assert got is not None
    assert (got.ratio.bound, got.ratio.status) == ("above", "under")
    assert bound_digits(got.ratio) == shown
    if floor is None and not zero:
        assert got.ratio.value == pytest.approx(472_930, abs=1.0)


def test_a_bound_counts_what_the_white_does_not_share() -> None:
    """White scatters as much as the bound of black: the bound is the lower end of the ratio's own interval."""
    log = Log([BLOCK])
    sequential(log, [xyz(390.0), xyz(412.0), xyz(434.0)], [xyz(0.0049), xyz(0.0048), xyz(0.0047)])
    got = analysed(log, MeterRange(0.005)).sequential
    assert got is not None
    assert got.ratio.bound == "above"
    assert got.ratio.value is not None
    assert got.ratio.value < 412.0 / 0.005 * 0.95


def test_black_under_range_without_figures() -> None:
    log = Log([BLOCK])
    sequential(log, [xyz(412.0)] * 3, [None] * 5, "under")
    got = analysed(log, MeterRange(0.005)).sequential
    assert got is not None
    assert (got.ratio.bound, bound_digits(got.ratio)) == ("above", 82_000.0)


def test_black_of_nothing_is_never_infinite() -> None:
    log = Log([BLOCK])
    sequential(log, [xyz(412.0)] * 3, [xyz(0.0)] * 5)
    got = analysed(log).sequential
    assert got is not None
    assert got.ratio.status == "absent"
    assert "the divisor is not above zero" in got.ratio.why


def test_black_near_the_floor_has_one_interval_with_its_own_ends() -> None:
    """Fieller by hand: white is exact, so the ends are 400 over the ends of black, .003 -+ 2.776445 x .000316228."""
    log = Log([BLOCK])
    black = [xyz(value) for value in (0.002, 0.003, 0.004, 0.003, 0.003)]
    sequential(log, [xyz(400.0)] * 3, black)
    got = analysed(log).sequential
    assert got is not None
    assert got.ratio.plain
    assert got.ratio.interval == pytest.approx((400.0 / 0.00387799, 400.0 / 0.00212201), rel=1e-5)
    assert got.ratio.stated is not None
    assert got.ratio.stated.k is None
    assert "near the meter's noise floor" in got.ratio.why


def test_the_mean_of_two_polarities_takes_the_ends_of_both() -> None:
    """Both blacks are off by one zero error: what it does to one ratio it does to the other, so halves add."""
    log = Log([BLOCK], uncertainty={"k": 2.0, "zero_cd_m2": 0.2})
    checker(log, "normal", WHITES, BLACKS)
    checker(log, "inverse", WHITES, BLACKS)
    board = analysed(log).checkerboard
    assert board is not None
    one, both = board.normal.ratio.interval, board.ratio.interval
    assert one is not None
    assert both is not None
    assert board.ratio.stated is not None
    assert board.ratio.stated.k is None
    assert both == pytest.approx(one, rel=0.02)
    assert both[0] > 0.0


def test_white_over_range_and_black_under_range() -> None:
    log = Log([BLOCK])
    log.measure("contrast/white", {"kind": "sequential", "level": "white"}, [None] * 3, status="over")
    log.measure("contrast/black", {"kind": "sequential", "level": "black"}, [None] * 3, status="under")
    got = analysed(log, MeterRange(0.005, 3000.0)).sequential
    assert got is not None
    assert (got.ratio.bound, got.ratio.value) == ("above", pytest.approx(600_000.0))


def test_checkerboard_of_sixteen_zones() -> None:
    """After ANSI/INFOCOMM 3M-2011, by hand: 391.5 / 0.4 = 978.75."""
    log = Log([BLOCK])
    checker(log, "normal", WHITES, BLACKS)
    checker(log, "inverse", tuple(2.0 * white for white in WHITES), BLACKS)
    got = analysed(log).checkerboard
    assert got is not None
    assert (got.normal.white.value, got.normal.black.value) == pytest.approx((391.5, 0.4), abs=1e-12)
    assert got.normal.ratio.value == pytest.approx(978.75, abs=1e-9)
    assert got.inverse.ratio.value == pytest.approx(1957.5, abs=1e-9)
    assert got.ratio.value == pytest.approx((978.75 + 1957.5) / 2.0, abs=1e-9)


def test_missing_cells_make_one_polarity_absent_and_are_named() -> None:
    log = Log([BLOCK])
    checker(log, "normal", WHITES, BLACKS)
    checker(log, "inverse", WHITES, BLACKS, leave_out=("r2c2", "r4c3", "r4c4"))
    got = analysed(log)
    assert got.sequential is not None
    assert got.sequential.missing == "white and black not measured"
    assert got.sequential.ratio.status == "absent"
    board = got.checkerboard
    assert board is not None
    assert board.normal.ratio.value == pytest.approx(978.75, abs=1e-9)
    assert board.inverse.missing == "cells r2c2 and r4c3 to r4c4 were not measured"
    assert board.ratio.status == "absent"
    assert board.ratio.why == "checkerboard, inverse: cells r2c2 and r4c3 to r4c4 were not measured"


def test_one_black_cell_under_range_makes_the_ratio_a_bound() -> None:
    whites, blacks = sum(WHITES) / 8, (0.005 + sum(BLACKS[1:])) / 8
    log = Log([BLOCK])
    checker(log, "normal", WHITES, BLACKS, leave_out=("r1c2",))
    labels = {"kind": "checkerboard", "polarity": "normal", "row": 1, "column": 2, "level": "black"}
    log.measure("contrast/checker/r1c2", labels, [None] * 3, code=0, status="under")
    board = analysed(log, MeterRange(0.005)).checkerboard
    assert board is not None
    assert board.normal.ratio.bound == "above"
    assert board.normal.ratio.value == pytest.approx(whites / blacks)


def test_kinds_not_asked_for_are_none() -> None:
    block = {**BLOCK, "kinds": ["sequential"]}
    got = contrast(collect(Log([block]).end()), block, MeterRange())
    assert got.checkerboard is None
    assert got.sequential is not None


@given(
    scale=st.floats(min_value=0.5, max_value=2.0),
    white=st.floats(min_value=10.0, max_value=2000.0),
    black=st.floats(min_value=0.01, max_value=5.0),
)
@settings(derandomize=True, max_examples=60, deadline=None)
def test_contrast_does_not_depend_on_the_scale_of_the_meter(scale: float, white: float, black: float) -> None:
    ratios = []
    for factor in (1.0, scale):
        log = Log([BLOCK])
        sequential(log, [xyz(factor * white)] * 3, [xyz(factor * black)] * 3)
        got = analysed(log).sequential
        assert got is not None
        ratios.append(got.ratio.value)
    assert ratios[0] == pytest.approx(ratios[1], rel=1e-12)
    assert ratios[0] == pytest.approx(white / black, rel=1e-12)


@given(st.floats(min_value=1e-4, max_value=1.0), st.floats(min_value=1.0, max_value=10.0))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_a_higher_floor_gives_a_weaker_bound(floor: float, factor: float) -> None:
    bounds = []
    for one in (floor, floor * factor):
        log = Log([BLOCK])
        sequential(log, [xyz(400.0)] * 3, [None] * 3, "under")
        got = analysed(log, MeterRange(one)).sequential
        assert got is not None
        assert got.ratio.value is not None
        bounds.append(got.ratio.value)
    assert bounds[0] >= bounds[1]
