"""Plots of bright windows: peak over size, and light over time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchd.analysis.light.window_results import Windows
from benchd.report.plots.intervals import AIMED, Points, halves, plain_ticks, series
from benchd.report.plots.plot import Ink, Plot, legend

_CROWDED = frozenset({3.0, 18.0, 75.0})
"""Sizes without a label of their own on a logarithmic axis: their neighbours leave no room."""


def window_plots(several: Sequence[tuple[str, Windows]], name: str, simulated: bool) -> list[Plot]:
    """Peak over window size, and the light of each window over time; several blocks overlaid: the first only."""
    made = []
    areas = [(label, _areas(block)) for label, block in several]
    if any(len(points) > 1 for _, points in areas):

        def over_area(figure: Any) -> None:
            axes = figure.subplots()
            axes.set_xscale("log")
            for index, (label, points) in enumerate(areas):
                series(axes, index, label, points)
            asked = several[0][1].requested_cd_m2
            top = max(point[1] + point[2][1] for _, points in areas for point in points)
            if asked is not None and asked <= 2.5 * top:
                axes.axhline(asked, **AIMED, label="requested", zorder=2)
                top = max(top, asked)
            ticks = sorted({point[0] for _, points in areas for point in points})
            axes.set_xticks(ticks, [f"{tick:g}" if tick not in _CROWDED else "" for tick in ticks])
            axes.minorticks_off()
            axes.set_xlabel("window, % of the screen (logarithmic)")
            axes.set_ylabel("peak luminance, cd/m²")
            axes.set_ylim(0, 1.08 * top)
            legend(axes)

        said = "; ".join(f"{label} {y:.0f} cd/m² in {x:g} %".strip() for label, points in areas for x, y, _ in points)
        text = f"Peak luminance over the size of the window. {said}."
        made.append(Plot(f"{name}-area", "Peak luminance over window size", text, over_area, simulated))
    lines = _over_time(several[0][1]) if len(several) == 1 else []
    if lines:
        made.append(_time_plot(lines, name, simulated))
    return made


def _areas(block: Windows) -> Points:
    return [
        (one.area_percent, one.peak.value, halves(one.peak))
        for one in block.windows
        if one.peak.plain and one.peak.value is not None
    ]


def _over_time(block: Windows) -> list[tuple[str, Points]]:
    lines = []
    most, several = len(Ink.series), len(block.windows)
    chosen = range(several) if several <= most else sorted({round(i * (several - 1) / (most - 1)) for i in range(most)})
    for window in (block.windows[index] for index in chosen):
        points = [
            (moment.after_s, moment.luminance.value, halves(moment.luminance))
            for moment in window.moments
            if moment.luminance.plain and moment.luminance.value is not None
        ]
        if len(points) > 1:
            lines.append((f"{window.area_percent:g} %", points))
    return lines


def _time_plot(lines: Sequence[tuple[str, Points]], name: str, simulated: bool) -> Plot:
    def draw(figure: Any) -> None:
        axes = figure.subplots()
        for index, (label, points) in enumerate(lines):
            series(axes, index, label, points)
        if max(point[0] for _, points in lines for point in points) > 100:
            axes.set_xscale("symlog", linthresh=1.0)
        plain_ticks(axes.xaxis)
        axes.set_xlabel("seconds after the window appeared")
        axes.set_ylabel("luminance, cd/m²")
        axes.set_ylim(0, 1.08 * max(point[1] + point[2][1] for _, points in lines for point in points))
        legend(axes)

    said = "; ".join(f"{label}: {p[0][1]:.0f} to {p[-1][1]:.0f} cd/m² after {p[-1][0]:g} s" for label, p in lines)
    return Plot(f"{name}-time", "Light of a window over time", f"Luminance over time. {said}.", draw, simulated)
