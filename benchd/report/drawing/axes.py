"""What a plot shows within its axes, as data: lines, areas, intervals and notes, all in the units of the axes.

A coordinate that is infinite is that end of the axes. ``order``: what has the higher one lies above.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from benchd.report.drawing.axis import Axis

Point = tuple[float, float]
Dash = tuple[float, ...]
"""Drawn and left out in turn, in widths of the line; empty: drawn throughout."""
Across = Literal["start", "middle", "end"]
Along = Literal["top", "middle", "bottom"]


@dataclass(frozen=True, slots=True)
class Curve:
    """Points joined, with a mark at each; ``joined`` False: marks alone. Widths and sizes are in points."""

    points: Sequence[Point]
    colour: str
    mark: str = ""
    dash: Dash = ()
    width: float = 1.3
    mark_size: float = 4.2
    joined: bool = True
    hollow: bool = False
    alpha: float = 1.0
    label: str = ""
    order: int = 2


@dataclass(frozen=True, slots=True)
class Area:
    """What lies within each of the outlines; ``hatch``: which of `benchd.report.drawing.marks.HATCHES` lies over it."""

    outlines: Sequence[Sequence[Point]]
    colour: str
    alpha: float = 1.0
    hatch: int = 0
    label: str = ""
    order: int = 2


@dataclass(frozen=True, slots=True)
class Intervals:
    """Upright bars, each (x, low, high), with a cap at both ends."""

    bars: Sequence[tuple[float, float, float]]
    colour: str
    width: float = 0.9
    cap: float = 4.0
    order: int = 3


@dataclass(frozen=True, slots=True)
class Note:
    """A text at a place, moved ``aside`` points right and up; ``behind``: colour of the ground under it."""

    text: str
    at: Point
    aside: Point = (0.0, 0.0)
    across: Across = "start"
    along: Along = "bottom"
    size: float = 10.0
    colour: str = ""
    behind: str = ""


Item = Curve | Area | Intervals | Note


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale of shades beside the axes: each band's ends and colour, and the axis that says what the shades mean."""

    bands: tuple[tuple[float, float, str], ...]
    axis: Axis


@dataclass(slots=True)
class Axes:
    """Axes that are being filled. ``equal``: one unit is as long on both; ``columns``: of the legend, at most."""

    x: Axis = field(default_factory=Axis)
    y: Axis = field(default_factory=Axis)
    items: list[Item] = field(default_factory=list)
    equal: bool = False
    columns: int = 3
    plain: bool = False
    """Neither grid nor frame, as for a map."""
    scale: Scale | None = None

    def add(self, *items: Item) -> None:
        """Lay items over those that are there, within their order."""
        self.items += items

    def within(self) -> None:
        """Set the ends of both axes to what is needed."""
        points = [point for item in self.items for point in reach(item)]
        self.x, self.y = self.x.around(x for x, _ in points), self.y.around(y for _, y in points)


def reach(item: Item) -> list[Point]:
    """The points that the axes must hold."""
    if isinstance(item, Curve):
        return list(item.points)
    if isinstance(item, Area):
        return [point for outline in item.outlines for point in outline]
    if isinstance(item, Intervals):
        return [(x, end) for x, *ends in item.bars for end in ends]
    return []


def level(y: float, colour: str, *, width: float = 1.0, dash: Dash = (), alpha: float = 1.0, label: str = "") -> Curve:
    """A line across the axes at one height, behind the others."""
    return Curve(((-math.inf, y), (math.inf, y)), colour, dash=dash, width=width, alpha=alpha, label=label, order=1)


def zone(low: float, high: float, colour: str, *, alpha: float, label: str) -> Area:
    """What lies between two places of the lower axis, behind the lines."""
    corners = ((low, -math.inf), (high, -math.inf), (high, math.inf), (low, math.inf))
    return Area((corners,), colour, alpha, label=label, order=1)
