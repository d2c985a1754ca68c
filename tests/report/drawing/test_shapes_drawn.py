"""Shapes as SVG and as pixels: the same things in the same places."""

from __future__ import annotations

import io
import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFont
from playwright.sync_api import Browser

from benchd.report.drawing import typeface
from benchd.report.drawing.marks import HATCHES, MARKS, OPEN_MARKS, hatching, marks
from benchd.report.drawing.pixels import dashes, pixels
from benchd.report.drawing.shapes import Box, Discs, Fill, Layer, Place, Shape, Strokes, Text
from benchd.report.drawing.svg_file import svg_shapes

SIZE = (100.0, 60.0)
SCALE = 2.0


def picture(*layers: Layer, down: float = 0.0) -> Any:
    """(rows, columns, 3) levels."""
    colours, columns = pixels([(down, layer) for layer in layers], SIZE, SCALE, "#ffffff")
    return np.frombuffer(colours, dtype=np.uint8).reshape(-1, columns, 3).astype(int)


def dark(found: Any) -> Any:
    """Where something is: rows and columns, in points."""
    rows, columns = np.nonzero(found.mean(axis=-1) < 128)
    return columns / SCALE, rows / SCALE


def test_a_line_is_where_its_places_are() -> None:
    x, y = dark(picture(Layer([Strokes([[(10, 20), (90, 20)]], "#000000", 2.0)])))
    assert (x.min(), x.max()) == pytest.approx((10, 90), abs=1.0)
    assert (y.min(), y.max()) == pytest.approx((19, 21), abs=0.6)


def test_nothing_is_seen_beyond_a_clip_and_a_layer_may_lie_lower() -> None:
    box = Box(20, 10, 60, 30)
    x, y = dark(picture(Layer([Fill([[(0, 0), (100, 0), (100, 60), (0, 60)]], "#000000")], box), down=20.0))
    assert (x.min(), x.max(), y.min(), y.max()) == pytest.approx((20, 60, 30, 50), abs=0.6)


def test_what_is_pale_lets_through_what_is_behind() -> None:
    half = picture(Layer([Fill([[(0, 0), (100, 0), (100, 60), (0, 60)]], "#000000", 0.25)]))
    assert half[30, 100].tolist() == pytest.approx([191, 191, 191], abs=2)


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 60)), min_size=2, max_size=6),
    st.lists(st.floats(0.5, 20.0), min_size=2, max_size=4).filter(lambda some: len(some) % 2 == 0),
)
def test_dashes_are_as_long_as_the_pattern_says(line: list[Place], pattern: list[float]) -> None:
    def length(one: Any) -> float:
        return sum(math.dist(a, b) for a, b in pairwise(one))

    whole, turns = length(line), [0.0]
    while turns[-1] < whole:
        turns.append(turns[-1] + pattern[(len(turns) - 1) % len(pattern)])
    wanted = sum(min(end, whole) - begin for begin, end in list(pairwise(turns))[::2])
    assert sum(map(length, dashes(line, pattern))) == pytest.approx(wanted, abs=1e-6)
    assert list(dashes(line, ())) == [line]


@pytest.mark.parametrize("kind", [*MARKS, *OPEN_MARKS])
@pytest.mark.parametrize("hollow", [False, True])
def test_a_mark_is_as_large_as_it_is_said_to_be_around_its_place(kind: str, hollow: bool) -> None:
    x, y = dark(picture(Layer([marks(kind, [(50.0, 30.0)], 20.0, "#000000", hollow=hollow)])))
    assert abs(x.min() + x.max() - 100) < 5
    assert 12 < x.max() - x.min() < 32
    assert 12 < y.max() - y.min() < 32


@pytest.mark.parametrize("kind", HATCHES)
@given(left=st.floats(0, 50), top=st.floats(0, 30), width=st.floats(0.5, 40), height=st.floats(0.5, 25))
def test_a_hatching_stays_within_its_box(kind: str, left: float, top: float, width: float, height: float) -> None:
    box = Box(left, top, left + width, top + height)
    lines = list(hatching(kind, box))
    for x, y in (place for line in lines for place in line):
        assert box.left - 0.41 <= x <= box.right + 1e-6
        assert box.top - 1e-6 <= y <= box.bottom + 1e-6
    assert bool(lines) == bool(kind) or min(width, height) < 8.0


WORDS = ("luminance, cd/m² (logarithmic)", "u′v′ from the centre r3c5", "0.0006", "−12.5", "SIMULATED", "brightness 50")


@pytest.mark.parametrize("text", WORDS)
def test_the_estimated_width_is_that_of_the_type(text: str) -> None:
    """Against the advance widths in the file of the type, by Pillow and FreeType."""
    width = ImageFont.truetype(str(typeface.FILE), 100).getlength(text)
    assert 0.95 * width <= typeface.width(text, 100.0) <= 1.2 * width


EVERY = (
    Layer([Strokes([[(5, 5), (95, 5), (95, 50)]], "#b8321f", 1.5, (6.0, 3.0))]),
    Layer(
        [Fill([[(10, 10), (40, 10), (40, 40)]], "#2458b8", 0.5), Discs([(60, 25), (75, 25)], 6.0, "#14794a")],
        Box(0, 0, 78, 60),
    ),
    Layer([Discs([(30, 50)], 4.0, "#000000", 1.0), Text("12.5", (50, 52), 10.0, "#1a1a1b", "middle")]),
    Layer(
        [
            Text("up", (90, 40), 9.0, "#1a1a1b", "end", 90.0),
            Text("pale", (8, 55), 12.0, "#1a1a1b", alpha=0.4, turn=24.0),
        ]
    ),
)


def test_a_browser_shows_the_svg_as_the_pixels_are(browser: Browser) -> None:
    """Drawn again by Chromium: the two differ by the rims of signs alone, whose type may be another."""
    body = svg_shapes(EVERY, "a")
    page = browser.new_context(viewport={"width": 200, "height": 120}).new_page()
    page.set_content(
        f'<body style="margin:0"><svg xmlns="http://www.w3.org/2000/svg" width="200" height="120" viewBox="0 0 100 60" '
        f'style="font-family:{typeface.FAMILY}">{body}</svg>'
    )
    seen = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB"), dtype=int)
    ours = picture(*EVERY)
    assert seen.shape == ours.shape
    coarse = [one.reshape(15, 8, 25, 8, 3).mean(axis=(1, 3)) for one in (seen, ours)]
    assert np.abs(coarse[0] - coarse[1]).max() < 45
    assert np.abs(coarse[0] - coarse[1]).mean() < 3


def test_nothing_drawn_is_nothing_written() -> None:
    empty: list[Shape] = [Strokes([], "#000000", 1.0), Fill([], "#000000"), Discs([], 1.0, "#000000")]
    assert svg_shapes([Layer(empty)], "a") == ""
    assert dark(picture(Layer(empty)))[0].size == 0
