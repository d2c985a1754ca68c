"""Maps of numbers: alignment, marks, bands."""

import pytest

from benchd.report.terminal.map_cells import MapText, draw


def test_decimal_points_stand_under_one_another() -> None:
    lines = draw([MapText("t", [["1.5", "10.25"], ["-", "> 0.1"]])], 80, indent="")
    assert lines == ["t", "       c1      c2", "r1   1.5    10.25", "r2   -     > 0.1"]


def test_the_marked_cell_has_brackets() -> None:
    lines = draw([MapText("t", [["1", "2"], ["3", "4"]], marked=(2, 1))], 80, indent="")
    assert lines == ["t", "   c1  c2", "r1  1   2", "r2 [3]  4"]


def test_maps_stand_side_by_side_while_there_is_room() -> None:
    maps = [MapText("left", [["1"]]), MapText("right", [["2"]])]
    assert len(draw(maps, 80)) == 3
    assert len(draw(maps, 14)) == 7


@pytest.mark.parametrize("columns", [1, 9, 13, 25])
@pytest.mark.parametrize("width", [60, 80, 100])
def test_a_wide_map_is_cut_into_bands_that_fit_and_lose_nothing(columns: int, width: int) -> None:
    cells = [[f"{100 * row + column}.5" for column in range(columns)] for row in range(3)]
    lines = draw([MapText("luminance, cd/m2", cells)], width)
    assert all(len(line) <= width for line in lines)
    printed = " ".join(lines).split()
    assert sorted(text for text in printed if text.endswith(".5")) == sorted(text for row in cells for text in row)
    for column in range(1, columns + 1):
        assert f"c{column}" in printed
