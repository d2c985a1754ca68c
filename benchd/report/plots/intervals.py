"""Series of figures in plots, with their intervals of 95 %."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.plots.plot import DASHES, MARKS, Ink

AIMED: dict[str, Any] = {"color": Ink.target, "linewidth": 3.2, "alpha": 0.75}
"""The line of what was aimed at: broad and behind the others, and of a contrast of 3 to 1 with the paper (WCAG 2.2)."""

Halves = tuple[float, float]
"""How far an interval reaches below and above its value."""


def halves(quantity: Quantity) -> Halves:
    """How far the 95 % interval reaches below and above a value; 0 where that is not known."""
    interval = quantity.interval
    if interval is None or quantity.value is None:
        return 0.0, 0.0
    below, above = (max(0.0, size) for size in (quantity.value - interval[0], interval[1] - quantity.value))
    return (below if math.isfinite(below) else 0.0), (above if math.isfinite(above) else 0.0)


def error_bars(axes: Any, x: Sequence[float], y: Sequence[float], several: Sequence[Halves], **style: Any) -> None:
    """The intervals of a series, each with both of its ends; nothing where none is known."""
    if any(map(any, several)):
        axes.errorbar(x, y, yerr=list(zip(*several, strict=True)), fmt="none", **style)


Points = list[tuple[float, float, Halves]]
"""x, value, how far its 95 % interval reaches below and above it."""


def series(axes: Any, index: int, label: str, points: Points) -> None:
    """One line with its marks and intervals."""
    at = index % len(Ink.series)
    x, y = [point[0] for point in points], [point[1] for point in points]
    axes.plot(x, y, color=Ink.series[at], marker=MARKS[at], linestyle=DASHES[at], label=label or None, zorder=3)
    error_bars(axes, x, y, [point[2] for point in points], ecolor=Ink.series[at], elinewidth=0.9, capsize=2, zorder=3)


def target_line(axes: Any, points: Sequence[tuple[float, float | None]]) -> None:
    """What was aimed at, behind the lines; points without a value or a light of zero are left out."""
    if aimed := [(x, y) for x, y in points if y is not None and y > 0]:
        axes.plot(*zip(*aimed, strict=True), **AIMED, label="target", zorder=2)


def plain_ticks(axis: Any) -> None:
    """Numbers as they are on a logarithmic axis, of which at least two are named; to be called once all is drawn."""
    from matplotlib.ticker import LogLocator, MaxNLocator, NullLocator

    low, high = axis.get_view_interval()
    if isinstance(axis.get_major_locator(), LogLocator) and 0.0 < low < high < 100.0 * low:  # few powers of ten
        near = high < 4.0 * low
        axis.set_major_locator(MaxNLocator(6, min_n_ticks=2) if near else LogLocator(subs=(1.0, 2.0, 5.0)))
        axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(lambda value, _: f"{value:g}")
    axis.set_minor_formatter(lambda value, _: "")
