"""Plot of a list of colours: each from its target to what was measured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchd.measurements.colours.results import Colours
from benchd.profile.colour_codes import uv_prime
from benchd.report.plots.chromaticity import Point, point
from benchd.report.plots.plot import Ink, Plot, legend

MAX_ARROWS = 100
"""More arrows can't be told apart."""


def plots(several: Sequence[tuple[str, Colours]], name: str, simulated: bool) -> list[Plot]:
    """Of one log: arrows of several can't be laid over each other."""
    block = several[0][1]
    arrows: list[tuple[Point, Point]] = [
        ((one.target_x, one.target_y), at)
        for one in block.patches
        if one.target_x is not None and one.target_y is not None and (at := point(one.x, one.y))
    ]
    arrows = arrows[:MAX_ARROWS]
    if len(several) > 1 or not arrows:
        return []
    chosen = (one for one in block.accuracy if one.convention == block.primary and one.aim == block.aim)
    worst = next((f"Furthest off: {', '.join(one.worst[:3])}." for one in chosen if one.worst), "")
    title = f"Colours against their targets: {block.block.rpartition('/')[2]}"

    def draw(figure: Any) -> None:
        axes = figure.subplots(subplot_kw={"xlabel": "u′", "ylabel": "v′"})
        axes.set_aspect("equal", adjustable="datalim")
        for number, (target, measured) in enumerate(arrows):
            start, end = uv_prime(*target), uv_prime(*measured)
            axes.plot(*zip(start, end, strict=True), color=Ink.series[0], linewidth=1.0, zorder=2)
            label = ("target", "measured") if number == 0 else (None, None)
            axes.plot([start[0]], [start[1]], "s", color=Ink.target, fillstyle="none", markersize=5, label=label[0])
            axes.plot([end[0]], [end[1]], "o", color=Ink.series[0], markersize=3.4, label=label[1], zorder=3)
        legend(axes)

    text = f"{title}: {len(arrows)} colours in u'v', each joined with its target. {worst}".strip()
    return [Plot(f"{name}-targets", title, text, draw, simulated, height_in=4.3)]
