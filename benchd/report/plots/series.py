"""Lines of a plot with their intervals, and the ticks of a logarithmic axis."""

from __future__ import annotations

from typing import Any

from benchd.report.plots.intervals import Halves, error_bars
from benchd.report.plots.plot import DASHES, MARKS, Ink

Points = list[tuple[float, float, Halves]]
"""x, value, how far its 95 % interval reaches below and above it."""


def series(axes: Any, index: int, label: str, points: Points) -> None:
    """One line with its marks and intervals."""
    at = index % len(Ink.series)
    x, y = [point[0] for point in points], [point[1] for point in points]
    axes.plot(x, y, color=Ink.series[at], marker=MARKS[at], linestyle=DASHES[at], label=label or None, zorder=3)
    error_bars(axes, x, y, [point[2] for point in points], ecolor=Ink.series[at], elinewidth=0.9, capsize=2, zorder=3)


def plain_ticks(axis: Any) -> None:
    """Numbers as they are on a logarithmic axis."""
    axis.set_major_formatter(lambda value, _: f"{value:g}")
    axis.set_minor_formatter(lambda value, _: "")
