"""The legend above the axes, clear of every figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchd.report.drawing import typeface
from benchd.report.drawing.axes import Area, Axes, Curve
from benchd.report.drawing.marks import area_shapes, curve_shapes
from benchd.report.drawing.shapes import Box, Neutrals, Shape, Text
from benchd.report.drawing.typeface import LINE, Lines, fitted

_SIZE, _ROW = 9.2, 13.0
_MORE = LINE * _SIZE
"""Added to a row for each further line of its longest label."""
_SAMPLE, _GAP, _COLUMN = 21.0, 6.0, 14.0
"""Width of what is shown of a series, room beside it, and room between columns."""


@dataclass(frozen=True, slots=True)
class Legend:
    """Rows of what has a label, side by side as far as they fit."""

    rows: tuple[tuple[tuple[Curve | Area, Lines], ...], ...]
    column: float

    @classmethod
    def of(cls, axes: Axes, width: float) -> Legend:
        """The legend of what the axes hold, in so many points' width."""
        items = [one for one in axes.items if isinstance(one, Curve | Area) and one.label]
        if not items:
            return cls((), 0.0)
        named = [(one, fitted(one.label, _SIZE, width - _SAMPLE - _GAP)) for one in items]
        column = _SAMPLE + _GAP + max(typeface.width("\n".join(own.texts), own.size) for _, own in named)
        columns = max(1, min(axes.columns, len(named), int((width + _COLUMN) / (column + _COLUMN))))
        rows = (tuple(named[at : at + columns]) for at in range(0, len(named), columns))
        return cls(tuple(rows), column + _COLUMN)

    @property
    def height(self) -> float:
        """In points."""
        return sum(map(_height, self.rows)) + 2.0 if self.rows else 0.0

    def fits(self, box: Box) -> bool:
        """Whether it is no wider than the axes, and so can begin where they do."""
        return max(map(len, self.rows), default=0) * self.column - _COLUMN <= box.width

    def shapes(self, left: float, top: float, ink: Neutrals) -> Iterator[Shape]:
        """With its upper left corner there."""
        for row in self.rows:
            middle = top + 0.5 * _ROW
            for at, (one, label) in enumerate(row):
                x = left + at * self.column
                yield from _sample(one, x, middle, ink)
                for number, text in enumerate(label.texts):
                    base = middle + typeface.MIDDLE * _SIZE + number * LINE * label.size
                    yield Text(text, (x + _SAMPLE + _GAP, base), label.size, ink.text)
            top += _height(row)


def _height(row: Sequence[tuple[Curve | Area, Lines]]) -> float:
    return _ROW + _MORE * (max(len(label.texts) for _, label in row) - 1)


def _sample(one: Curve | Area, x: float, y: float, ink: Neutrals) -> Iterator[Shape]:
    if isinstance(one, Area):
        yield from area_shapes(one, [Box(x, y - 3.5, x + _SAMPLE, y + 3.5).outline], ink.paper)
    else:
        yield from curve_shapes(one, [[(x, y), (x + _SAMPLE, y)]], [(x + _SAMPLE / 2.0, y)])
