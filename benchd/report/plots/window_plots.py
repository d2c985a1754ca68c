"""Plots of bright windows: peak over size, and light over time."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.light.window_results import Windows
from benchd.report.drawing.axes import Axes
from benchd.report.drawing.axis import Axis
from benchd.report.plots.intervals import Points, halves, series, target_level
from benchd.report.plots.plot import Ink, Plot

_CROWDED = frozenset({3.0, 18.0, 75.0})
"""Sizes without a label of their own on a logarithmic axis: their neighbours leave no room."""


def window_plots(several: Sequence[tuple[str, Windows]], name: str, simulated: bool) -> list[Plot]:
    """Peak over window size, and the light of each window over time; several blocks overlaid: the first only."""
    made = []
    areas = [(label, _areas(block)) for label, block in several]
    if any(len(points) > 1 for _, points in areas):

        def over_area(axes: Axes) -> None:
            for index, (label, points) in enumerate(areas):
                axes.add(*series(index, label, points))
            asked = several[0][1].requested_cd_m2
            top = max(point[1] + point[2][1] for _, points in areas for point in points)
            if asked is not None and asked <= 2.5 * top:
                axes.add(target_level(asked, "requested"))
                top = max(top, asked)
            ticks = sorted({point[0] for _, points in areas for point in points})
            named = tuple((tick, f"{tick:g}" if tick not in _CROWDED else "") for tick in ticks)
            axes.x = Axis("window, % of the screen (logarithmic)", kind="logarithmic", ticks=named)
            axes.y = Axis("peak luminance, cd/m²", 0.0, 1.08 * top)

        said = "; ".join(f"{label} {y:.0f} cd/m² in {x:g} %".strip() for label, points in areas for x, y, _ in points)
        text = f"Peak luminance over the size of the window. {said}."
        made.append(Plot(f"{name}-area", "Peak luminance over window size", text, over_area, simulated))
    lines = _over_time(several[0][1]) if len(several) == 1 else []
    if lines:
        made.append(_time_plot(lines, len(several[0][1].windows), name, simulated))
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


def _time_plot(lines: Sequence[tuple[str, Points]], measured: int, name: str, simulated: bool) -> Plot:
    def draw(axes: Axes) -> None:
        for index, (label, points) in enumerate(lines):
            axes.add(*series(index, label, points))
        long = max(point[0] for _, points in lines for point in points) > 100
        axes.x = Axis("seconds after the window appeared", kind="logarithmic from 1" if long else "linear")
        top = max(point[1] + point[2][1] for _, points in lines for point in points)
        axes.y = Axis("luminance, cd/m²", 0.0, 1.08 * top)

    said = "; ".join(f"{label}: {p[0][1]:.0f} to {p[-1][1]:.0f} cd/m² after {p[-1][0]:g} s" for label, p in lines)
    title, of = "Light of a window over time", ""
    if len(lines) < measured:
        title += f", {len(lines)} of {measured} windows"
        of = f" Drawn: {len(lines)} of {measured} windows; the table has all."
    return Plot(f"{name}-time", title, f"Luminance over time.{of} {said}.", draw, simulated)
