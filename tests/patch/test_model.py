"""Laws of patch geometry, and code levels of published documents."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from benchd.patch.model import Patch, Rect, code_for, field, grey, half_up, max_code

ON, OFF = grey(255), grey(0)
sizes = st.integers(64, 4096)
sides = st.integers(1, 25)
fractions = st.floats(0.0, 1.0)
percents = st.floats(0.05, 100.0)


def raster(rects: tuple[Rect, ...], width: int, height: int) -> NDArray[np.uint16]:
    """Paint in order, as a window does."""
    picture = np.full((height, width), 0xFFFF, dtype=np.uint16)
    for x, y, w, h, code in rects:
        picture[y : y + h, x : x + w] = code[0]
    return picture


@st.composite
def patches(draw: st.DrawFn) -> Patch:
    kind = draw(st.sampled_from(["field", "window", "checkerboard", "spot"]))
    return Patch(
        kind,
        ON,
        surround=OFF,
        area_percent=draw(percents),
        columns=draw(sides),
        rows=draw(sides),
        inverse=draw(st.booleans()),
        at=(draw(fractions), draw(fractions)),
    )


@given(patches(), sizes, sizes)
def test_rectangles_lie_on_the_screen_and_the_first_covers_it(patch: Patch, width: int, height: int) -> None:
    rects = patch.rectangles(width, height)
    assert rects[0][:4] == (0, 0, width, height)
    for x, y, w, h, _ in rects:
        assert w >= 1
        assert h >= 1
        assert 0 <= x <= width - w
        assert 0 <= y <= height - h


@given(percents, sizes, sizes)
def test_a_window_is_centred_to_a_pixel_and_has_its_area(percent: float, width: int, height: int) -> None:
    """Side = sqrt(p) of width and height (common practice), each rounded by half a pixel at most."""
    x, y, w, h, _ = Patch("window", ON, area_percent=percent).rectangles(width, height)[1]
    for start, length, total in ((x, w, width), (y, h, height)):
        assert abs(start - (total - length - start)) <= 1
    side = math.sqrt(percent / 100)
    assert abs(w - max(1, side * width)) <= 0.5
    assert abs(h - max(1, side * height)) <= 0.5


def test_a_ten_percent_window_of_a_common_screen() -> None:
    """Worked by hand: .316228 x 3840 = 1214.3, .316228 x 2160 = 683.05; 10.00 % of the area."""
    _, window = Patch("window", ON, area_percent=10.0).rectangles(3840, 2160)
    assert window[:4] == (1313, 739, 1214, 683)
    assert 100 * window.width * window.height / (3840 * 2160) == pytest.approx(9.9966, abs=1e-4)


@given(sides, sides, st.integers(64, 900), st.integers(64, 900))
def test_a_checkerboard_and_its_inverse_are_complementary(columns: int, rows: int, width: int, height: int) -> None:
    board = Patch("checkerboard", ON, columns=columns, rows=rows)
    other = Patch("checkerboard", ON, columns=columns, rows=rows, inverse=True)
    first = raster(board.rectangles(width, height), width, height)
    second = raster(other.rectangles(width, height), width, height)
    assert first[0, 0] == 255
    assert (first + second == 255).all()


@given(sides, sides, st.integers(64, 900), st.integers(64, 900))
def test_checkerboard_cells_differ_by_a_pixel_at_most_and_neighbours_in_code(
    columns: int, rows: int, width: int, height: int
) -> None:
    picture = raster(Patch("checkerboard", ON, columns=columns, rows=rows).rectangles(width, height), width, height)
    for line, cells in ((picture[0], columns), (picture[:, 0], rows)):
        edges = np.flatnonzero(np.diff(line.astype(int))) + 1
        lengths = np.diff([0, *edges, line.size])
        assert lengths.size == cells
        assert lengths.max() - lengths.min() <= 1


@given(st.integers(1, 9), st.integers(1, 9), sizes, sizes)
def test_spots_of_a_symmetric_grid_mirror_each_other(columns: int, rows: int, width: int, height: int) -> None:
    for column in range(columns):
        at = ((column + 0.5) / columns, 0.5)
        mirrored = (1 - at[0], 0.5)
        one = Patch("spot", ON, area_percent=1.0, at=at).rectangles(width, height)[1]
        two = Patch("spot", ON, area_percent=1.0, at=mirrored).rectangles(width, height)[1]
        assert one.width == two.width
        assert abs(one.x - (width - two.x - two.width)) <= 1


@given(patches(), st.integers(64, 300), st.integers(64, 300), fractions, fractions)
def test_code_at_is_what_is_painted(patch: Patch, width: int, height: int, x: float, y: float) -> None:
    picture = raster(patch.rectangles(width, height), width, height)
    pixel = picture[min(height - 1, int(y * height)), min(width - 1, int(x * width))]
    assert patch.code_at(x, y, width, height) == grey(int(pixel))


def test_a_spot_in_the_last_corner_keeps_a_pixel() -> None:
    spot = Patch("spot", ON, area_percent=0.0001, at=(1.0, 1.0)).rectangles(64, 64)[1]
    assert spot[:4] == (63, 63, 1, 1)


def test_ten_percent_steps_round_half_up() -> None:
    """0 26 51 77 102 128 153 179 204 230 255: half up, where Python's ``round`` gives 76 and 178."""
    codes = [code_for(percent, 8) for percent in range(0, 101, 10)]
    assert codes == [0, 26, 51, 77, 102, 128, 153, 179, 204, 230, 255]
    assert (round(76.5), round(178.5)) == (76, 178)
    assert [half_up(v) for v in (0.5, 1.5, 2.5, 42.5, 212.5)] == [1, 2, 3, 43, 213]


def test_code_ranges_and_helpers() -> None:
    assert [max_code(bits) for bits in (8, 10, 12)] == [255, 1023, 4095]
    assert code_for(100, 10) == 1023
    assert field((1, 2, 3)).rectangles(70, 80) == (Rect(0, 0, 70, 80, (1, 2, 3)),)
