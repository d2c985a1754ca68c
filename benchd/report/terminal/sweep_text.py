"""A sweep on one screen: one line a point where there is room, else both ends of each figure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from benchd.analysis.catalogue import of_points
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.results_log import Setting, Sweep
from benchd.analysis.uncertainty.quantity import Quantity, maximum, minimum
from benchd.measurements.declared_figure import plain_name
from benchd.report.figure_text import figure
from benchd.report.units import behind, unit_text
from benchd.report.words import columns, count, printable, shortened

WIDTH_OF_HEAD = 12
"""The name of a figure that declares no head is broken into lines of so many signs."""
NAME, LONGEST = 24, 44
"""The column of names is so wide; a longer one moves what stands behind it, and is cut at last."""
INDENT = "  "


class _Column(NamedTuple):
    head: tuple[str, ...]
    cells: tuple[str, ...]

    @property
    def width(self) -> int:
        return max(len(printable(text)) for text in (*self.head, *self.cells))


def points_of_sweep(
    sweep: Sweep, names: Sequence[str], width: int, room: int, needed: int, *, partly: bool
) -> list[str]:
    """One line a point: of the figures ``names`` the first ``needed`` ones, or nothing; more where there is room.

    Figures that have no room beside the first ones stand in a second table, where there is room for that. ``partly``:
    of the needed ones those that there is room for, and how many are lacking.
    """
    points = [
        _Column((control,), tuple(_plain(row.settings[control]) for row in sweep.rows)) for control in sweep.controls
    ]
    left, lines = {name: _column(sweep, name) for name in names}, list[str]()
    most = room - partly  # a line for how many are lacking
    if partly:  # low heads leave room for more
        order = sorted(names[:needed], key=lambda name: len(left[name].head))
        left = {name: left[name] for name in (*order, *names[needed:])}
    while low := {name: one for name, one in left.items() if len(lines) + len(one.head) + len(sweep.rows) <= most}:
        kept = list(points)
        for name, one in low.items():
            if len(kept) > len(points) and sum(len(INDENT) + each.width for each in (*kept, one)) > width:
                break
            kept.append(left.pop(name))
        lines += _drawn(kept)
    lacking = sum(name in left for name in names[:needed])
    if not lacking:
        return lines
    return [*lines, *_lacking(lacking)] if partly and lines else []


def _column(sweep: Sweep, name: str) -> _Column:
    """A figure at every point, its unit in the head."""
    one = of_points(sweep.rows)[name]
    head = one.head.split("\n") if one.head else textwrap.wrap(plain_name(one.name), WIDTH_OF_HEAD)
    cells = tuple(_cell(row.quantity(name), one, "") for row in sweep.rows)
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


def ends_of_sweep(sweep: Sweep, names: Sequence[str], width: int, room: int, needed: int) -> list[str]:
    """The lowest and the highest of each figure, and at which point, for as many figures as there is room for.

    How many of the first ``needed`` ones are lacking is said.
    """
    known = of_points(sweep.rows)
    about = f"{count(len(sweep.rows), 'point')} of {', '.join(sweep.controls)}; lowest and highest of each figure"
    found: list[list[str]] = [[shortened(f"{INDENT}{about}", width)]]
    for name in names:
        begin = f"{INDENT}{shortened(plain_name(name), LONGEST):{NAME}}  "
        ends = list(_ends(sweep, known[name]))
        rows = [f"{begin}{'   '.join(ends)}"]
        if len(rows[0]) > width:
            rows = [f"{begin}{ends[0]}", *(" " * len(begin) + end for end in ends[1:])]
        found.append(rows)
    shown = len(found)
    while shown > 1 and sum(map(len, found[:shown])) + (shown <= needed) > room:
        shown -= 1
    return [*(row for rows in found[:shown] for row in rows), *_lacking(needed - shown + 1)]


def _lacking(number: int) -> list[str]:
    return [f"{INDENT}and {count(number, 'more figure')}: see --details"] if number > 0 else []


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
        yield f"{text} at {' '.join(map(_plain, own.settings.values()))}" if own else text


def _plain(setting: Setting) -> str:
    return f"{setting:g}" if isinstance(setting, float) else str(setting)
