"""Series of figures in plots, with their intervals of 95 %."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.drawing.axes import Curve, Intervals, Item, level
from benchd.report.drawing.marks import MARKS
from benchd.report.plots.plot import DASHES, Ink

_AIMED: dict[str, Any] = {"colour": Ink.target, "width": 3.2, "alpha": 0.75}
"""The line of what was aimed at: broad and behind the others, and of a contrast of 3 to 1 with the paper (WCAG 2.2)."""

_ALIKE = 0.01
"""Targets that are no farther apart lie below the width of their line."""

Halves = tuple[float, float]
"""How far an interval reaches below and above its value."""


def halves(quantity: Quantity) -> Halves:
    """How far the 95 % interval reaches below and above a value; 0 where that is not known."""
    interval = quantity.interval
    if interval is None or quantity.value is None:
        return 0.0, 0.0
    below, above = (max(0.0, size) for size in (quantity.value - interval[0], interval[1] - quantity.value))
    return (below if math.isfinite(below) else 0.0), (above if math.isfinite(above) else 0.0)


Points = list[tuple[float, float, Halves]]
"""x, value, how far its 95 % interval reaches below and above it."""


def error_bars(points: Points, colour: str, *, order: int = 3) -> Intervals:
    """The intervals of a series, each with both of its ends; those that are not known are left out."""
    bars = [(x, y - below, y + above) for x, y, (below, above) in points if below or above]
    return Intervals(bars, colour, order=order)


def series(index: int, label: str, points: Points) -> Iterator[Item]:
    """One line with its marks and intervals."""
    at = index % len(Ink.series)
    places = [(x, y) for x, y, _ in points]
    yield Curve(places, Ink.series[at], MARKS[at], DASHES[at], label=label, order=3)
    yield error_bars(points, Ink.series[at])


def target_line(points: Sequence[tuple[float, float | None]]) -> Iterator[Item]:
    """What was aimed at, behind the lines; points without a value or a light of zero are left out."""
    if aimed := [(x, y) for x, y in points if y is not None and y > 0]:
        yield Curve(aimed, **_AIMED, label="target")


def agreed(targets: Sequence[Sequence[tuple[float, float]]]) -> Sequence[tuple[float, float]]:
    """The longest of several targets where all are the same at every place that they share; none otherwise."""
    longest = max(targets, key=len, default=())
    places = dict(longest)
    shared = [[(value, places[x]) for x, value in one if x in places] for one in targets]
    alike = all(pairs and all(math.isclose(*pair, rel_tol=_ALIKE) for pair in pairs) for pairs in shared)
    return longest if alike else ()


def target_level(y: float, label: str = "") -> Curve:
    """What was aimed at where it is the same for all."""
    return level(y, **_AIMED, label=label)
