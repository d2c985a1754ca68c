"""Marks of points and hatching of areas, which tell series apart without colour."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from benchd.report.drawing.axes import Area, Curve
from benchd.report.drawing.shapes import Box, Discs, Fill, Place, Shape, Strokes

_CROSS = 0.35
_OUTLINES: dict[str, tuple[Place, ...]] = {
    "s": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "^": ((-1, 1), (1, 1), (0, -1)),
    "v": ((-1, -1), (1, -1), (0, 1)),
    "D": ((0, -1.35), (1.35, 0), (0, 1.35), (-1.35, 0)),
    "P": (
        *((-_CROSS, -1), (_CROSS, -1), (_CROSS, -_CROSS), (1, -_CROSS), (1, _CROSS), (_CROSS, _CROSS)),
        *((_CROSS, 1), (-_CROSS, 1), (-_CROSS, _CROSS), (-1, _CROSS), (-1, -_CROSS), (-_CROSS, -_CROSS)),
    ),
}
"""Around the point, within 1 each way; y downwards."""
_LINES: dict[str, tuple[tuple[Place, Place], ...]] = {
    "+": (((-1, 0), (1, 0)), ((0, -1), (0, 1))),
    "x": (((-1, -1), (1, 1)), ((-1, 1), (1, -1))),
    "Y": (((0, 0), (0, 1)), ((0, 0), (0.8, -0.5)), ((0, 0), (-0.8, -0.5))),
    "T": (((0, 0), (0, -1)), ((0, 0), (0.8, 0.5)), ((0, 0), (-0.8, 0.5))),
}
MARKS = ("o", "s", "^", "D", "v", "P")
"""Closed ones, for series."""
OPEN_MARKS = ("+", "x", "Y", "T")

HATCHES = ("", "/", ".", "x", "-", "|")
_APART = 3.2
"""Lines of a hatching, in points."""


def marks(kind: str, places: Sequence[Place], size: float, colour: str, *, hollow: bool, alpha: float = 1.0) -> Shape:
    """A mark at each place, ``size`` points across."""
    half, rim = size / 2.0, max(0.9, size / 7.0)
    if kind == "o":
        return Discs(places, half, colour, rim if hollow else 0.0, alpha)
    if kind in _LINES:
        lines = [[(x + half * dx, y + half * dy) for dx, dy in line] for x, y in places for line in _LINES[kind]]
        return Strokes(lines, colour, rim, alpha=alpha)
    outlines = [[(x + half * dx, y + half * dy) for dx, dy in _OUTLINES[kind]] for x, y in places]
    if hollow:
        return Strokes([[*outline, outline[0], outline[1]] for outline in outlines], colour, rim, alpha=alpha)
    return Fill(outlines, colour, alpha)


def curve_shapes(curve: Curve, rows: Iterable[Sequence[Place]], marked: Sequence[Place]) -> Iterator[Shape]:
    """The lines of a curve through each of the ``rows``, and its marks."""
    lines = [row for row in rows if len(row) > 1]
    if curve.joined and lines:
        dash = tuple(curve.width * part for part in curve.dash)
        yield Strokes(lines, curve.colour, curve.width, dash, curve.alpha)
    if curve.mark and marked:
        yield marks(curve.mark, marked, curve.mark_size, curve.colour, hollow=curve.hollow, alpha=curve.alpha)


def area_shapes(area: Area, outlines: Sequence[Sequence[Place]], paper: str) -> Iterator[Shape]:
    """What lies within the ``outlines`` of an area, with its hatching in the colour of the ``paper``."""
    yield Fill(outlines, area.colour, area.alpha)
    if area.hatch:
        lines = [list(line) for one in outlines for line in hatching(HATCHES[area.hatch], _around(one))]
        yield Strokes(lines, paper, 0.8)


def _around(outline: Sequence[Place]) -> Box:
    x, y = [at for at, _ in outline], [at for _, at in outline]
    return Box(min(x), min(y), max(x), max(y))


def hatching(kind: str, box: Box) -> Iterator[tuple[Place, Place]]:
    """The lines that lie over a box; dots are lines as long as they are wide."""
    across = range(math.floor(box.left / _APART), math.ceil(box.right / _APART) + 1)
    along = range(math.floor(box.top / _APART), math.ceil(box.bottom / _APART) + 1)
    if kind == "-":
        yield from (((box.left, _APART * n), (box.right, _APART * n)) for n in along if _within(box, y=_APART * n))
    if kind == "|":
        yield from (((_APART * n, box.top), (_APART * n, box.bottom)) for n in across if _within(box, x=_APART * n))
    if kind == ".":
        for row in along:
            for column in across:
                x, y = _APART * column, _APART * row
                if _within(box, x=x, y=y):
                    yield (x - 0.4, y), (min(x + 0.4, box.right), y)
    for sign in {"/": (1.0,), "x": (1.0, -1.0)}.get(kind, ()):
        # Lines sign * y + x = constant, each from where it enters the box to where it leaves it.
        ends = [x + sign * y for x in (box.left, box.right) for y in (box.top, box.bottom)]
        for number in range(math.ceil(min(ends) / _APART), math.floor(max(ends) / _APART) + 1):
            constant = number * _APART
            first, last = sorted(sign * (constant - x) for x in (box.left, box.right))
            first, last = max(first, box.top), min(last, box.bottom)
            if first < last:
                yield (constant - sign * first, first), (constant - sign * last, last)


def _within(box: Box, *, x: float | None = None, y: float | None = None) -> bool:
    return (x is None or box.left < x < box.right) and (y is None or box.top < y < box.bottom)
