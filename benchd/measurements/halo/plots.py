"""Plot of a halo: black over the distance to a bright window."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchd.measurements.halo.results import Halo
from benchd.report.plots.intervals import halves
from benchd.report.plots.plot import Ink, Plot, legend
from benchd.report.plots.series import Points, plain_ticks, series


def plots(several: Sequence[tuple[str, Halo]], name: str, simulated: bool) -> list[Plot]:
    """Black over the distance to a bright window, one line a side; of one log."""
    block = several[0][1]
    sides: dict[str, Points] = {}
    for one in block.beside:
        if one.black.plain and one.black.value:
            sides.setdefault(one.side, []).append((one.distance_percent, one.black.value, halves(one.black)))
    if len(several) > 1 or not any(len(points) > 1 for points in sides.values()):
        return []

    def draw(figure: Any) -> None:
        names = {"xlabel": "distance to the window, % of the screen's width", "ylabel": "black, cd/m² (logarithmic)"}
        axes = figure.subplots(subplot_kw={"yscale": "log", **names})
        if block.black.plain and block.black.value:
            axes.axhline(
                block.black.value,
                color=Ink.target,
                linewidth=3.2,
                alpha=0.45,
                label="all of the screen black",
                zorder=2,
            )
        for index, (side, points) in enumerate(sides.items()):
            series(axes, index, side, sorted(points))
        plain_ticks(axes.yaxis)
        legend(axes)

    text = f"Black beside a window of {block.area_percent:g} %, over its distance. {block.behaviour}"
    return [Plot(f"{name}-black", "Black beside a bright window", text, draw, simulated)]
