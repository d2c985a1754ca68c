"""Uniformity over a grid: a worked example by hand, missing cells, bounds, invariance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_light import MeterRange
from benchd.measurements.uniformity.analysis import uniformity
from benchd.measurements.uniformity.results import UniformityLevel
from tests.analysis.logs import Log, xyz

WHITE = {"level": "white", "percent": 100, "code": 255}
GREY = {"level": "grey50", "percent": 50, "code": 128}

EXAMPLE = ((302.1, 318.4, 305.9), (311.0, 330.2, 314.8), (298.5, 317.7, 301.3))  # invented; figures by hand
XY = (
    (0.3127, 0.3290),
    (0.3110, 0.3275),
    (0.3143, 0.3302),
    (0.3098, 0.3251),
    (0.3131, 0.3310),
)  # invented; figures by hand

Light = Sequence[float] | None  # luminance or luminance, x, y; None: under range without figures


def block(columns: int, rows: int, *levels: Mapping[str, object]) -> dict[str, object]:
    return {"name": "uniformity", "kind": "uniformity", "columns": columns, "rows": rows, "levels": list(levels)}


def read(log: Log, level: str, cells: Mapping[tuple[int, int], Light], code: int = 255) -> None:
    for (row, column), light in cells.items():
        labels = {"row": row, "column": column, "level": level, "level_percent": 100}
        step, at = f"uniformity/r{row}c{column}/{level}", (0.1 * column, 0.1 * row)
        if light is None:
            log.measure(step, labels, [None] * 3, code=code, at=at, status="under")
        else:
            log.measure(step, labels, [xyz(*light)] * 3, code=code, at=at)


def grid(values: Sequence[Sequence[float]]) -> dict[tuple[int, int], Light]:
    return {(r + 1, c + 1): (value,) for r, line in enumerate(values) for c, value in enumerate(line)}


def analysed(
    cells: Mapping[tuple[int, int], Light], columns: int = 3, rows: int = 3, meter: MeterRange | None = None
) -> UniformityLevel:
    log = Log([block(columns, rows, WHITE)])
    read(log, "white", cells)
    return uniformity(collect(log.end()), block(columns, rows, WHITE), meter or MeterRange()).levels[0]


def test_luminance_of_the_worked_example() -> None:
    got = analysed(grid(EXAMPLE))
    assert got.non_uniformity.value == pytest.approx(9.6002, abs=1e-4)
    assert got.min_over_max.value == pytest.approx(0.903998, abs=1e-6)
    assert got.worst_deviation.value == pytest.approx(-9.6002, abs=1e-4)
    assert got.worst_place == "r3c1"  # bottom left
    assert got.mean.value == pytest.approx(311.1, abs=1e-4)
    assert (got.centre, got.missing) == ("r2c2", "")
    assert got.grid[1][1].deviation.value == 0.0
    assert got.grid[0][2].luminance.value == 305.9
    assert got.grid[0][2].at == (pytest.approx(0.3), pytest.approx(0.1))
    assert got.grid[2][0].deviation.value == pytest.approx(100.0 * (298.5 / 330.2 - 1.0))


def test_chromaticity_of_the_worked_example() -> None:
    """First point as centre: largest distance .002591 from it, .003656 between the 4th and the 5th."""
    order = ((1, 3), (1, 1), (1, 2), (1, 4), (1, 5))  # the first of the list is the centre of a row of five
    got = analysed({place: (100.0, *xy) for place, xy in zip(order, XY, strict=True)}, columns=5, rows=1)
    assert got.centre == "r1c3"
    assert got.max_delta_uv.value == pytest.approx(0.002591, abs=1e-6)
    assert got.max_delta_uv_place == "r1c4"
    assert got.max_pair_delta_uv.value == pytest.approx(0.003656, abs=1e-6)
    assert got.max_pair_places == ("r1c4", "r1c5")


def test_delta_e_against_the_centre_in_its_own_white() -> None:
    got = analysed({(1, 1): (90.0, 0.3140, 0.3300), (1, 2): (100.0,), (1, 3): (100.0,)}, columns=3, rows=1)
    white = np.array(xyz(100.0))
    wanted = colour.delta_e_2000((100.0, 0.0, 0.0), colour.lab_from_xyz(xyz(90.0, 0.3140, 0.3300), white))
    assert got.max_delta_e.value == pytest.approx(float(wanted), abs=1e-9)
    assert got.max_delta_e_place == "r1c1"
    assert got.grid[0][1].delta_e.value == pytest.approx(0.0, abs=1e-9)
    assert "centre cell" in got.delta_e_convention


def test_missing_cells_leave_the_grid_and_name_themselves() -> None:
    cells = grid([[300.0] * 5] * 5)
    for gone in [(4, column) for column in range(1, 6)] + [(5, column) for column in range(1, 6)]:
        del cells[gone]
    got = analysed(cells, 5, 5)
    assert got.missing == "cells r4c1 to r5c5 were not measured"
    for figure in (
        got.non_uniformity,
        got.min_over_max,
        got.mean,
        got.worst_deviation,
        got.max_delta_uv,
        got.max_pair_delta_uv,
        got.max_delta_e,
    ):
        assert figure.value is None
        assert figure.why == got.missing
    assert got.worst_place is None
    assert got.grid[0][0].luminance.value == 300.0
    assert got.grid[0][0].deviation.value == 0.0
    assert got.grid[4][4].luminance.why == "it was not measured"
    assert got.grid[4][4].at is None


def test_a_missing_centre_leaves_what_does_not_need_it() -> None:
    cells = grid(EXAMPLE)
    del cells[2, 2]
    got = analysed(cells)
    assert got.missing == "cell r2c2 was not measured"
    assert got.grid[0][0].luminance.value == 302.1
    assert got.grid[0][0].deviation.why == "the centre cell r2c2 was not measured"


def test_a_grid_without_a_centre_says_so_and_keeps_the_rest() -> None:
    got = analysed(grid([[300.0, 310.0], [290.0, 300.0]]), 2, 2)
    assert got.centre is None
    assert got.worst_deviation.why == "a grid without a centre cell has no centre to compare with"
    assert got.non_uniformity.value == pytest.approx(100.0 * 20.0 / 310.0)
    assert got.max_pair_delta_uv.value == pytest.approx(0.0, abs=1e-12)


def test_a_cell_under_range_makes_bounds() -> None:
    cells = grid([[0.02, 0.03, 0.02]])
    cells[1, 1] = None
    got = analysed(cells, 3, 1, MeterRange(0.005))
    assert (got.min_over_max.bound, got.min_over_max.value) == ("below", pytest.approx(0.005 / 0.03))
    assert (got.non_uniformity.bound, got.non_uniformity.value) == (
        "above",
        pytest.approx(100.0 * (1.0 - 0.005 / 0.03)),
    )
    assert (got.worst_deviation.bound, got.worst_deviation.value) == (
        "below",
        pytest.approx(100.0 * (0.005 / 0.03 - 1.0)),
    )
    assert got.max_delta_uv.status == "absent"
    assert got.max_delta_uv.why.startswith("not to be had at r1c1: no chromaticity: below the meter's specified")
    assert got.mean.bound == "below"


def test_all_cells_under_range_is_absent_never_uniform() -> None:
    got = analysed({(1, column): None for column in range(1, 4)}, 3, 1, MeterRange(0.005))
    assert got.non_uniformity.status == "absent"
    assert got.worst_deviation.status == "absent"


def test_levels_are_kept_apart() -> None:
    described = block(3, 1, WHITE, GREY)
    log = Log([described])
    read(log, "white", grid([[300.0, 310.0, 290.0]]))
    read(log, "grey50", grid([[60.0, 62.0]]), code=128)
    white, grey = uniformity(collect(log.end()), described, MeterRange()).levels
    assert (white.level, grey.level, grey.code, grey.percent) == ("white", "grey50", 128, 50.0)
    assert white.missing == ""
    assert grey.missing == "cell r1c3 was not measured"


luminances = st.lists(st.floats(min_value=50.0, max_value=500.0), min_size=9, max_size=9)


@given(values=luminances, scale=st.floats(min_value=0.1, max_value=10.0), order=st.permutations(range(9)))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_neither_scale_nor_order_changes_uniformity(values: list[float], scale: float, order: list[int]) -> None:
    cells = grid(np.reshape(values, (3, 3)).tolist())
    places = list(cells)
    other = {places[i]: (scale * values[i],) for i in order}
    one, two = analysed(cells), analysed(other)
    for name in ("non_uniformity", "min_over_max", "worst_deviation", "max_delta_uv", "max_pair_delta_uv"):
        first, second = getattr(one, name).value, getattr(two, name).value
        assert first == pytest.approx(second, rel=1e-9, abs=1e-9)
    expected = 100.0 * (max(values) - min(values)) / max(values)
    assert one.non_uniformity.value == pytest.approx(expected, abs=1e-9)


def test_a_grid_near_zero_holds_for_every_zero_of_the_meter() -> None:
    """Cells of .0021 to .0029 whose common zero has u .001: off by 1.96 u either way they give 16.5 % and 85 %."""
    described = block(3, 3, WHITE)
    log = Log([described], uncertainty={"k": 2.0, "zero_cd_m2": 0.002})
    values = np.linspace(0.0021, 0.0029, 9).reshape(3, 3).tolist()
    for cell, light in grid(values).items():
        assert light is not None
        labels = {"row": cell[0], "column": cell[1], "level": "white", "level_percent": 100}
        readings = [xyz(light[0] * factor) for factor in (0.9999, 1.0, 1.0001)]
        log.measure(f"uniformity/r{cell[0]}c{cell[1]}/white", labels, readings, code=0)
    got = uniformity(collect(log.end()), described, MeterRange()).levels[0]
    shifted = [[one + way * 1.95996 * 0.001 for one in (0.0021, 0.0029)] for way in (1.0, -1.0)]
    wanted = [100.0 * (1.0 - low / high) for low, high in shifted]
    assert got.non_uniformity.interval is not None
    assert got.non_uniformity.interval[0] <= wanted[0] + 1e-6
    assert got.non_uniformity.interval[1] >= wanted[1] - 1e-6
    assert got.min_over_max.interval is not None
    assert got.min_over_max.interval[0] <= 1.0 - wanted[1] / 100.0 + 1e-8
    assert got.worst_deviation.interval is not None
    assert got.worst_deviation.interval[1] >= 100.0 * (shifted[1][1] / (0.0025 - 1.95996 * 0.001) - 1.0) * 0.99
