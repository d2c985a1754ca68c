"""Where everything of a plot stands: its axes as large as labels, legend and scale let them be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from benchd.report.drawing import typeface
from benchd.report.drawing.axes import Along, Area, Axes, Curve, Intervals, Item, Note, Scale
from benchd.report.drawing.axis import Tick
from benchd.report.drawing.legend import Legend
from benchd.report.drawing.marks import area_shapes, curve_shapes
from benchd.report.drawing.shapes import Box, Fill, Layer, Neutrals, Place, Shape, Strokes, Text
from benchd.report.drawing.typeface import LINE, Lines, fitted

EDGE = 3.6
"""Left free at the edges of a plot, in points."""
_NAMES, _LABELS = 9.5, 10.0
"""Type of the values at an axis and of what it shows."""
_TICK, _GAP = 3.5, 3.0
_NAMES_BELOW = _TICK + _GAP + _NAMES * LINE
_SCALE = 11.0
"""Width of a scale of shades."""
_TRIES = 6
"""More lines beside the axes leave less length for all of them; after so few nothing changes any more."""
_ACROSS, _ALONG = 1.7, 2.6
"""Room for one named value, of its width beside others and of its height above others."""


_CAP_OF_PITCH = 0.6
"""The widest cap of an interval, of what one is apart from the next: wider ones would make one line."""
_ROOMY = 0.2
"""Of a plot's height, what a legend may take of it; for a higher one the plot becomes higher."""


def height_of(axes: Axes, size: Place) -> float:
    """The height of a plot that is meant to be so large, with room for its legend."""
    return size[1] + max(0.0, Legend.of(axes, size[0] - 2.0 * EDGE).height - _ROOMY * size[1])


def laid_out(
    axes: Axes, size: Place, colours: Neutrals, stamp: Callable[[Box], Sequence[Shape]] = lambda box: ()
) -> list[Layer]:
    """The shapes of a plot of so many points' width and height.

    ``stamp`` gives what lies over all figures of the axes, but under their notes.
    """
    axes.within()
    legend = Legend.of(axes, size[0] - 2.0 * EDGE)
    labels = _Labels.of(axes, Box(0.0, 0.0, *size))
    box = _box(axes, legend, labels, size)
    for _ in range(_TRIES):
        if (closer := _Labels.of(axes, box)) == labels:
            break
        labels, box = closer, _box(axes, legend, closer, size)
    if axes.equal:
        _equal(axes, box)
    return list(_Drawn(axes, box, labels, colours).layers(legend, stamp))


class _Labels(NamedTuple):
    """What stands beside the axes, in lines that fit their length."""

    x: Lines
    y: Lines
    scale: Lines

    @classmethod
    def of(cls, axes: Axes, box: Box) -> _Labels:
        """As they fit axes of that size."""
        across, up = box.width - _LABELS, box.height - _LABELS
        scale = fitted(axes.scale.axis.label if axes.scale else "", _LABELS, up)
        return cls(fitted(axes.x.label, _LABELS, across), fitted(axes.y.label, _LABELS, up), scale)


def along(at: float, size: float, lines: int, where: Along) -> float:
    """The base line of the first of so many lines, of which a part (``where``) is at that height."""
    below = (lines - 1) * LINE * size
    if where == "top":
        return at + typeface.ASCENT * size
    if where == "middle":
        return at + typeface.MIDDLE * size - below / 2.0
    return at - typeface.DESCENT * size - below


def _box(axes: Axes, legend: Legend, labels: _Labels, size: Place) -> Box:
    """Where the axes are. The names at an upright axis are as wide as they are however wide the axes become."""
    width, height = size
    below = EDGE + _beside(labels.x) + _NAMES_BELOW
    top = EDGE + (legend.height or _NAMES / 2.0)
    beside = _widest(axes.y.named(_most_along(height - below - top)))
    left = EDGE + _beside(labels.y) + beside + _TICK + _GAP
    right = width - EDGE - 2.0
    if axes.scale is not None:
        numbers = _widest(axes.scale.axis.named(_most_along(height - below - top)))
        right = width - EDGE - _SCALE - numbers - _TICK - _GAP - _beside(labels.scale) - 8.0
    elif not axes.plain and (names := axes.x.named(_most_across(axes, right - left))):
        place = axes.x.place()(names[-1][0]) or 0.0
        past = typeface.width(names[-1][1], _NAMES) / 2.0 - (1.0 - place) * (right - left)
        right -= max(0.0, past - 2.0)
    return Box(left, top, right, height - below)


def _beside(lines: Lines) -> float:
    return lines.height + _GAP if lines.texts else 0.0


def _widest(names: Iterable[Tick]) -> float:
    return max((typeface.width(name, _NAMES) for _, name in names), default=0.0)


def _most_along(height: float) -> int:
    return max(2, min(9, int(height / (_ALONG * _NAMES))))


def _most_across(axes: Axes, width: float) -> int:
    """So many names stand side by side; how wide they are depends on how many there are, so a few are tried."""
    for most in range(9, 2, -1):
        if sum(_ACROSS * typeface.width(name, _NAMES) for _, name in axes.x.named(most)) <= width:
            return most
    return 2


def _equal(axes: Axes, box: Box) -> None:
    """The axis that has more room for its length shows more around the middle."""
    per_x = box.width / abs(axes.x.ends[1] - axes.x.ends[0])
    per_y = box.height / abs(axes.y.ends[1] - axes.y.ends[0])
    if per_x > per_y:
        axes.x = axes.x.stretched(per_x / per_y)
    else:
        axes.y = axes.y.stretched(per_y / per_x)


class _Drawn:
    """Axes whose place is known."""

    def __init__(self, axes: Axes, box: Box, labels: _Labels, colours: Neutrals) -> None:
        self.axes, self.box, self.labels, self.colours = axes, box, labels, colours
        self._x, self._y = axes.x.place(), axes.y.place()

    def layers(self, legend: Legend, stamp: Callable[[Box], Sequence[Shape]]) -> Iterator[Layer]:
        """From the grid to the notes."""
        items = sorted((one for one in self.axes.items if not isinstance(one, Note)), key=lambda one: one.order)
        yield Layer(list(self._frame()))
        yield Layer([shape for one in items for shape in self._shapes(one)], self._clip())
        if self.axes.scale is not None:
            yield Layer(list(self._scale(self.axes.scale)))
        if over := stamp(self.box):
            yield Layer(over, self.box)
        yield Layer([shape for one in self.axes.items if isinstance(one, Note) for shape in self._note(one)])
        yield Layer(list(legend.shapes(EDGE + (self.box.left - EDGE) * legend.fits(self.box), EDGE, self.colours)))

    def _clip(self) -> Box:
        """A little more than the axes, so that a mark at their very end is whole."""
        room = 0.0 if self.axes.plain else 3.0
        box = self.box
        return Box(box.left - room, box.top - room, box.right + room, box.bottom + room)

    def place(self, x: float, y: float) -> Place | None:
        """In points; None where the axes have no such value."""
        across, up = self._x(x), self._y(y)
        if across is None or up is None:
            return None
        box = self.box
        return box.left + across * box.width, box.bottom - up * box.height

    def _frame(self) -> Iterator[Shape]:
        """Grid, axes and what their values are called."""
        box, ink = self.box, self.colours
        bottom = box.bottom
        across = self._named(self.axes.x.named(_most_across(self.axes, box.width)), self._x)
        up = self._named(self.axes.y.named(_most_along(box.height)), self._y)
        columns = [(box.left + at * box.width, name) for at, name in across]
        rows = [(bottom - at * box.height, name) for at, name in up]
        if not self.axes.plain:
            grid = [[(x, box.top), (x, bottom)] for x, _ in columns]
            grid += [[(box.left, y), (box.right, y)] for y, _ in rows]
            ticks = [[(x, bottom), (x, bottom + _TICK)] for x, _ in columns]
            ticks += [[(box.left - _TICK, y), (box.left, y)] for y, _ in rows]
            yield Strokes(grid, ink.fine, 0.7)
            yield Strokes([[(box.left, box.top), (box.left, bottom), (box.right, bottom)], *ticks], ink.rule, 0.8)
        base = bottom + _TICK + _GAP + typeface.ASCENT * _NAMES
        yield from (Text(name, (x, base), _NAMES, ink.faint, "middle") for x, name in columns if name)
        aside, drop = box.left - _TICK - _GAP, typeface.MIDDLE * _NAMES
        yield from (Text(name, (aside, y + drop), _NAMES, ink.faint, "end") for y, name in rows if name)
        labels, middle = self.labels, ((box.left + box.right) / 2.0, (box.top + bottom) / 2.0)
        under = base + typeface.DESCENT * _NAMES + _GAP
        for text, down in labels.x.bases():
            yield Text(text, (middle[0], under + down), labels.x.size, ink.faint, "middle")
        for text, down in labels.y.bases():
            yield Text(text, (EDGE + down, middle[1]), labels.y.size, ink.faint, "middle", turn=90.0)

    @staticmethod
    def _named(names: Iterable[Tick], place: Callable[[float], float | None]) -> list[tuple[float, str]]:
        found = ((place(value), name) for value, name in names)
        return [(at, name) for at, name in found if at is not None and -1e-6 <= at <= 1.0 + 1e-6]

    def _places(self, points: Iterable[tuple[float, float]]) -> list[list[Place]]:
        """Rows of places, broken where a point has none."""
        rows: list[list[Place]] = [[]]
        for point in points:
            at = self.place(*point)
            if at is not None:
                rows[-1].append(at)
            elif rows[-1]:
                rows.append([])
        return [row for row in rows if row]

    def _shapes(self, item: Item) -> Iterator[Shape]:
        if isinstance(item, Curve):
            rows = self._places(item.points)
            yield from curve_shapes(item, rows, [place for row in rows for place in row])
        elif isinstance(item, Area):
            outlines = [row for outline in item.outlines for row in self._places(outline) if len(row) > 2]
            yield from area_shapes(item, outlines, self.colours.paper)
        elif isinstance(item, Intervals):
            yield Strokes(list(self._bars(item)), item.colour, item.width)

    def _bars(self, item: Intervals) -> Iterator[list[Place]]:
        places = sorted({at[0] for x, low, _ in item.bars if (at := self.place(x, low))})
        apart = min((after - before for before, after in pairwise(places)), default=item.cap)
        half = min(item.cap, _CAP_OF_PITCH * apart) / 2.0
        for x, low, high in item.bars:
            ends = [place for place in (self.place(x, low), self.place(x, high)) if place]
            if len(ends) == 2:
                yield ends
            yield from ([(at - half, y), (at + half, y)] for at, y in ends)

    def _note(self, note: Note) -> Iterator[Shape]:
        at = self.place(*note.at)
        if at is None:
            return
        lines = note.text.split("\n")
        x, y = at[0] + note.aside[0], at[1] - note.aside[1]
        if note.behind:
            half, high = typeface.width(note.text, note.size) / 2.0 + 0.6, 0.62 * LINE * note.size * len(lines)
            yield Fill([Box(x - half, y - high, x + half, y + high).outline], note.behind)
        first = along(y, note.size, len(lines), note.along)
        for number, line in enumerate(lines):
            base = first + number * LINE * note.size
            yield Text(line, (x, base), note.size, note.colour or self.colours.text, note.across)

    def _scale(self, scale: Scale) -> Iterator[Shape]:
        """The scale of shades, at the right."""
        box, ink, axis = self.box, self.colours, scale.axis
        place = axis.place()
        left, right = box.right + 8.0, box.right + 8.0 + _SCALE
        for low, high, colour in scale.bands:
            top, bottom = (box.bottom - (place(end) or 0.0) * box.height for end in (high, low))
            # A hair over the next one, so that no seam shows between them.
            yield Fill([Box(left, top - 0.3, right, bottom).outline], colour)
        for at, name in self._named(axis.named(_most_along(box.height)), place):
            y = box.bottom - at * box.height
            yield Strokes([[(right, y), (right + _TICK, y)]], ink.rule, 0.8)
            yield Text(name, (right + _TICK + _GAP, y + typeface.MIDDLE * _NAMES), _NAMES, ink.faint)
        beside = right + _TICK + 2.0 * _GAP + _widest(axis.named(_most_along(box.height)))
        for text, down in self.labels.scale.bases():
            middle = beside + down, (box.top + box.bottom) / 2.0
            yield Text(text, middle, self.labels.scale.size, ink.faint, "middle", turn=90.0)
