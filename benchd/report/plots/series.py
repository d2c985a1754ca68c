"""Lines of a plot with their intervals, and the ticks of a logarithmic axis."""

from __future__ import annotations

from collections.abc import Sequence
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


def target_line(axes: Any, points: Sequence[tuple[float, float | None]]) -> None:
    """What was aimed at, behind the lines; points without a value or a light of zero are left out."""
    if aimed := [(x, y) for x, y in points if y is not None and y > 0]:
        axes.plot(*zip(*aimed, strict=True), color=Ink.target, linewidth=3.2, alpha=0.45, label="target", zorder=2)


def plain_ticks(axis: Any) -> None:
    """Numbers as they are on a logarithmic axis."""
    axis.set_major_formatter(lambda value, _: f"{value:g}")
    axis.set_minor_formatter(lambda value, _: "")
