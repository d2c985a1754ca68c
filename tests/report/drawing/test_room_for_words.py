"""However long a label, a title or an entry of a legend is, and however wide the plot: no sign is cut."""

from __future__ import annotations

import io
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from benchd.report.drawing import typeface
from benchd.report.drawing.axes import Axes, Curve, Intervals, Scale
from benchd.report.drawing.axis import Axis
from benchd.report.drawing.layout import EDGE, height_of, laid_out
from benchd.report.drawing.shapes import Strokes, Text
from benchd.report.plots.picture import pictures
from benchd.report.plots.plot import COLOURS, Ink, Plot

LONG = (
    "colour dE00 maximum of saturations 20, 40, 60, 80, 100 %, straight from white in CIE 1976 u', v', "
    "luminance of the full colour"
)
NAMES = st.lists(st.text("aeilmoW0 ±", min_size=1, max_size=14), min_size=1, max_size=8).map(" ".join)


def filled(label: str, legend: str = "", scale: str = "") -> Axes:
    axes = Axes(x=Axis(label), y=Axis(label))
    axes.add(Curve(((0.0, 1.0), (100.0, 4000.0)), Ink.series[0], label=legend))
    axes.add(Curve(((0.0, 1.0), (100.0, 200.0)), Ink.series[1], label=legend and "short"))
    axes.scale = Scale(((0.0, 1.0, Ink.red),), Axis(scale, 0.0, 1.0)) if scale else None
    return axes


def ends(text: Text) -> tuple[float, float, float, float]:
    """What a text covers: left, top, right, bottom."""
    wide = typeface.width(text.text, text.size)
    before = {"start": 0.0, "middle": wide / 2.0, "end": wide}[text.across]
    (x, y), up, down = text.at, typeface.ASCENT * text.size, typeface.DESCENT * text.size
    if text.turn == 90.0:
        return x - up, y - (wide - before), x + down, y + before
    return x - before, y - up, x - before + wide, y + down


@settings(deadline=None, max_examples=25)
@given(label=NAMES, legend=NAMES, scale=NAMES, width=st.sampled_from([290.0, 346.0, 500.0]))
def test_no_text_leaves_the_plot_or_lies_over_another(label: str, legend: str, scale: str, width: float) -> None:
    layers = laid_out(filled(label, legend, scale), (width, 234.0), COLOURS)
    texts = [shape for layer in layers for shape in layer.shapes if isinstance(shape, Text)]
    boxes = [(text, ends(text)) for text in texts]
    for text, (left, top, right, bottom) in boxes:
        assert left >= 0.0, text
        assert top >= 0.0, text
        assert right <= width, text
        assert bottom <= 234.0, text
    said = " ".join(text.text for text in texts)
    assert "…" not in said
    for sign in set((label + legend + scale).replace(" ", "")):
        assert sign in said


def test_what_is_too_long_for_any_way_ends_with_an_ellipsis_and_leaves_room() -> None:
    lines = typeface.fitted("word " * 200, 10.0, 100.0)
    assert len(lines.texts) == 3
    assert lines.texts[-1].endswith("…")


@given(NAMES, st.floats(5.0, 400.0))
def test_broken_text_keeps_every_sign_in_its_order(text: str, most: float) -> None:
    lines = typeface.broken(text, 10.0, most)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(len(line) == 1 or typeface.width(line, 10.0) <= most for line in lines)


@pytest.mark.parametrize("width_in", [2.4, 4.8, 7.0])
def test_no_ink_touches_the_edge_of_a_file(width_in: float) -> None:
    def draw(axes: Axes) -> None:
        made = filled(LONG, LONG)
        axes.x, axes.y = made.x, made.y
        axes.add(*made.items)

    plot = Plot("long", LONG, "A long name.", draw, simulated=False, width_in=width_in, conditions=LONG)
    [picture] = pictures([plot])
    levels = np.asarray(Image.open(io.BytesIO(picture.png)).convert("L"))
    edge = int(0.4 * EDGE * 200 / 72)
    for strip in (levels[:edge], levels[-edge:], levels[:, :edge], levels[:, -edge:]):
        assert strip.min() > 250


def test_a_high_legend_makes_the_plot_higher_and_leaves_its_axes_their_room() -> None:
    def draw(axes: Axes, lines: int) -> None:
        for number in range(lines):
            axes.add(Curve(((0.0, 1.0), (100.0, 4.0)), Ink.series[0], label=f"{number}: {LONG[:40]}"))

    heights = []
    for lines in (1, 6):
        axes = Axes()
        draw(axes, lines)
        heights.append(height_of(axes, (346.0, 234.0)))
    assert heights[0] == 234.0
    assert heights[1] > 234.0 + 20.0
    made = []
    for lines in (1, 6):
        plot = Plot("p", "t", "x", lambda axes, lines=lines: draw(axes, lines), simulated=False)  # type: ignore[misc]
        [picture] = pictures([plot], png=False)
        made.append(picture.inline)
    assert f'viewBox="0 0 345.6 {height_of(Axes(), (345.6, 234.0)):g}"' in made[0]
    assert 'viewBox="0 0 345.6 234"' not in made[1]


def test_caps_of_intervals_that_stand_close_do_not_touch() -> None:
    axes = Axes()
    axes.add(Intervals([(float(x), 1.0, 2.0 + x) for x in range(100)], Ink.text))
    [caps] = [
        [line for line in shape.lines if line[0][1] == line[1][1]]
        for layer in laid_out(axes, (346.0, 234.0), COLOURS)
        for shape in layer.shapes
        if isinstance(shape, Strokes) and shape.width == 0.9
    ]
    low = sorted((line[0][0], line[1][0]) for line in caps if line[0][1] == max(one[0][1] for one in caps))
    assert len(low) == 100
    assert all(right < left for (_, right), (left, _) in pairwise(low))
