"""A sweep on one screen: one line a point where there is room, else both ends of each figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import NamedTuple

from benchd.analysis.catalogue import of_points
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.results_log import Sweep
from benchd.analysis.uncertainty.quantity import Quantity, maximum, minimum
from benchd.measurements.declared_figure import plain_name
from benchd.measuring_conditions import plain_value
from benchd.report.figure_text import figure
from benchd.report.sections.sweep import column_head
from benchd.report.units import behind, unit_text
from benchd.report.words import columns, count, printable, shortened

NAME, LONGEST = 24, 44
"""The column of names is so wide; a longer one moves what stands behind it, and is cut at last."""
INDENT = "  "


class _Column(NamedTuple):
    head: tuple[str, ...]
    cells: tuple[str, ...]

    @property
    def width(self) -> int:
        return max(len(printable(text)) for text in (*self.head, *self.cells))


class SweepText:
    """A sweep in so much room as is left of a screen; each column and each end is set once, whatever the room.

    ``names`` of its figures, of which the first ``needed`` ones are not left out unsaid; ``below`` stands under all.
    """

    def __init__(self, sweep: Sweep, names: Sequence[str], needed: int, width: int, below: Sequence[str]) -> None:
        self._sweep, self._names, self._needed, self._width, self._below = sweep, names, needed, width, below
        self._figures = of_points(sweep.rows)
        self._points = [
            _Column((name,), tuple(plain_value(row.settings[name]) for row in sweep.rows)) for name in sweep.controls
        ]
        self._columns = {name: _column(sweep, self._figures[name]) for name in names}

    def points(self, room: int, *, partly: bool) -> list[str]:
        """One line a point: of the needed figures all, or nothing; more where there is room.

        Figures that have no room beside the first ones stand in a second table, where there is room for that.
        ``partly``: of the needed ones those that there is room for, and how many figures are not there.
        """
        points, needed = self._points, self._names[: self._needed]
        left, lines = dict(self._columns), list[str]()
        most = room - len(self._below) - partly  # a line for how many are lacking
        if partly:  # low heads leave room for more
            order = sorted(needed, key=lambda name: len(left[name].head))
            left = {name: left[name] for name in (*order, *self._names[self._needed :])}
        height = len(self._sweep.rows)
        while low := {name: one for name, one in left.items() if len(lines) + len(one.head) + height <= most}:
            kept = list(points)
            for name, one in low.items():
                if len(kept) > len(points) and sum(len(INDENT) + each.width for each in (*kept, one)) > self._width:
                    break
                kept.append(left.pop(name))
            lines += _drawn(kept)
        lacking = any(name in left for name in needed)
        if not lines or (lacking and not partly):
            return []
        shown = len(self._columns) - len(left)
        return [*lines, *(self._lacking(shown) if lacking else ()), *self._below]

    def ends(self, room: int) -> list[str]:
        """The lowest and the highest of each figure, and at which point, for as many figures as there is room for.

        Where needed ones are lacking, how many figures are not there is said.
        """
        found, shown = self._lines_of_ends, len(self._lines_of_ends)
        while shown > 1 and sum(map(len, found[:shown])) + (shown <= self._needed) > room - len(self._below):
            shown -= 1
        more = self._lacking(shown - 1) if shown <= self._needed else ()
        return [*(row for rows in found[:shown] for row in rows), *more, *self._below]

    def _lacking(self, shown: int) -> list[str]:
        """How many figures each point has that are not on the screen, the needed ones and all others."""
        number = len(self._figures) - shown
        return [f"{INDENT}and {count(number, 'more figure')} a point: see --details"]

    @cached_property
    def _lines_of_ends(self) -> list[list[str]]:
        """What this is about, and the lines of each figure."""
        points = f"{count(len(self._sweep.rows), 'point')} of {', '.join(self._sweep.controls)}"
        found = [[shortened(f"{INDENT}{points}; lowest and highest of each figure", self._width)]]
        for name in self._names:
            begin = f"{INDENT}{shortened(plain_name(name), LONGEST):{NAME}}  "
            ends = list(_ends(self._sweep, self._figures[name]))
            rows = [f"{begin}{'   '.join(ends)}"]
            if len(rows[0]) > self._width:
                rows = [f"{begin}{ends[0]}", *(" " * len(begin) + end for end in ends[1:])]
            found.append(rows)
        return found


def _column(sweep: Sweep, one: Figure) -> _Column:
    """A figure at every point, its unit in the head."""
    head = column_head(one).split("\n")
    cells = tuple(_cell(row.quantity(one.name), one, "") for row in sweep.rows)
    unit = unit_text(one.unit)
    if not unit or len(f"{head[-1]} {unit}") <= max(map(len, (*head, *cells))):
        return _Column((*head[:-1], f"{head[-1]} {unit}".rstrip()), cells)
    return _Column((*head, unit), cells)


def _cell(quantity: Quantity | None, one: Figure, unit: str) -> str:
    return "absent" if quantity is None else figure(quantity, one.unit, unit, sign=one.unit == "Duv")


def _drawn(kept: Sequence[_Column]) -> list[str]:
    high = max(len(one.head) for one in kept)
    whole = [("",) * (high - len(one.head)) + one.head + one.cells for one in kept]
    return [f"{INDENT}{row}" for row in columns(list(zip(*whole, strict=True)))]


def _ends(sweep: Sweep, one: Figure) -> Iterator[str]:
    """Both ends; a point stands behind one that is the figure of that point itself."""
    found = [(row, quantity) for row in sweep.rows if (quantity := row.quantity(one.name)) and quantity.present]
    if not found:
        yield "absent"
        return
    for end in (minimum, maximum):
        extreme = end([quantity for _, quantity in found], one.quantity.unit)
        text = _cell(extreme, one, behind(one.unit))
        own = next((row for row, each in found if (each.value, each.bound) == (extreme.value, extreme.bound)), None)
        yield f"{text} at {' '.join(map(plain_value, own.settings.values()))}" if own else text
