"""Plots of HDR: peak over window size and over time, the tone curve and its error, black beside a bright window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchd.analysis.results_hdr import Halo, Peak, Sustained, ToneCurve, ToneStep
from benchd.report.figure_text import bare, figure
from benchd.report.plots.grayscale import Halves, error_bars, halves
from benchd.report.plots.plot import DASHES, MARKS, Ink, Plot, legend, span

Points = list[tuple[float, float, Halves]]
"""x, value, how far its 95 % interval reaches below and above it."""


def _series(axes: Any, index: int, label: str, points: Points) -> None:
    at = index % len(Ink.series)
    x, y = [point[0] for point in points], [point[1] for point in points]
    axes.plot(x, y, color=Ink.series[at], marker=MARKS[at], linestyle=DASHES[at], label=label or None, zorder=3)
    error_bars(axes, x, y, [point[2] for point in points], ecolor=Ink.series[at], elinewidth=0.9, capsize=2, zorder=3)


def _plain_ticks(axis: Any) -> None:
    axis.set_major_formatter(lambda value, _: f"{value:g}")
    axis.set_minor_formatter(lambda value, _: "")


_CROWDED = frozenset({3.0, 18.0, 75.0})
"""Sizes without a label of their own on a logarithmic axis: their neighbours leave no room."""


def peak_plots(several: Sequence[tuple[str, Peak | Sustained]], *, name: str, simulated: bool) -> list[Plot]:
    """Peak over window size, and the light of each window over time; several blocks overlaid: the first only."""
    made = []
    areas = [(label, _areas(block)) for label, block in several]
    if any(len(points) > 1 for _, points in areas):

        def over_area(figure: Any) -> None:
            axes = figure.subplots()
            axes.set_xscale("log")
            for index, (label, points) in enumerate(areas):
                _series(axes, index, label, points)
            asked = several[0][1].asked_cd_m2
            top = max(point[1] + point[2][1] for _, points in areas for point in points)
            if asked is not None and asked <= 2.5 * top:
                axes.axhline(asked, color=Ink.target, linewidth=3.2, alpha=0.45, label="asked for", zorder=2)
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
    lines = _over_time(several[0][1])
    if lines:
        made.append(_time_plot(lines, name, simulated))
    return made


def _areas(block: Peak | Sustained) -> Points:
    return [
        (one.area_percent, one.peak.value, halves(one.peak))
        for one in block.windows
        if one.peak.plain and one.peak.value is not None
    ]


def _over_time(block: Peak | Sustained) -> list[tuple[str, Points]]:
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
            _series(axes, index, label, points)
        if max(point[0] for _, points in lines for point in points) > 100:
            axes.set_xscale("symlog", linthresh=1.0)
        _plain_ticks(axes.xaxis)
        axes.set_xlabel("seconds after the window appeared")
        axes.set_ylabel("luminance, cd/m²")
        axes.set_ylim(0, 1.08 * max(point[1] + point[2][1] for _, points in lines for point in points))
        legend(axes)

    said = "; ".join(f"{label}: {p[0][1]:.0f} to {p[-1][1]:.0f} cd/m² after {p[-1][0]:g} s" for label, p in lines)
    return Plot(f"{name}-time", "Light of a window over time", f"Luminance over time. {said}.", draw, simulated)


def tone_plots(several: Sequence[tuple[str, ToneCurve]], *, name: str, simulated: bool) -> list[Plot]:
    """Luminance over what the code asks for, and its error."""
    made = []
    curves = [(label, _tone(block, lambda step: step.luminance.value)) for label, block in several]
    if any(points for _, points in curves):

        def curve(figure: Any) -> None:
            axes = figure.subplots()
            axes.set_xscale("log")
            axes.set_yscale("log")
            target = [(s.asked_cd_m2, s.target.value) for s in several[0][1].steps if s.asked_cd_m2 > 0]
            aimed = [(x, y) for x, y in target if y is not None and y > 0]
            if aimed:
                axes.plot(
                    *zip(*aimed, strict=True), color=Ink.target, linewidth=3.2, alpha=0.45, label="target", zorder=2
                )
            for index, (label, points) in enumerate(curves):
                _series(axes, index, label or "measured", points)
            if len(several) == 1 and (knee := several[0][1].knee.interval) is not None:
                axes.axvspan(*knee, color=Ink.rule, alpha=0.6, label="knee, 95 % interval", zorder=1)
            axes.minorticks_off()
            _plain_ticks(axes.xaxis)
            _plain_ticks(axes.yaxis)
            axes.set_xlabel("asked for, cd/m² (logarithmic)")
            axes.set_ylabel("luminance, cd/m² (logarithmic)")
            legend(axes)

        said = " ".join(
            f"{label or 'Measured'}: peak {figure(block.peak, 'cd/m2', ' cd/m²')}, "
            f"knee {figure(block.knee, 'cd/m2', ' cd/m²')}{_ending(block)}."
            for label, block in several
        )
        text = f"Luminance over the luminance that the code asks for, both logarithmic. {said}"
        made.append(Plot(f"{name}-curve", f"Tone curve ({several[0][1].transfer.upper()})", text, curve, simulated))
    errors = [(label, _tone(block, lambda step: step.error.value)) for label, block in several]
    if any(points for _, points in errors):

        def error(figure: Any) -> None:
            axes = figure.subplots()
            axes.set_xscale("log")
            axes.axhline(0, color=Ink.target, linewidth=3.2, alpha=0.45, zorder=2)
            for index, (label, points) in enumerate(errors):
                _series(axes, index, label, points)
            axes.minorticks_off()
            _plain_ticks(axes.xaxis)
            axes.set_xlabel("asked for, cd/m² (logarithmic)")
            axes.set_ylabel("error of luminance, %")
            # A dark step may be off by hundreds of per cent: the axis is for the rest, the table for that.
            axes.set_ylim(*_within(span([0.0, *(y for _, points in errors for _, y, _ in points)], 10.0), 60.0))
            legend(axes)

        said = " ".join(
            f"{label or 'Mean'} {bare(block.mean_error, '%', sign=True)} %, worst "
            f"{bare(block.worst_error, '%', sign=True)} %."
            for label, block in several
        )
        text = f"Error of the tone curve in per cent of its target. {said}"
        made.append(Plot(f"{name}-error", "Tone curve: error", text, error, simulated))
    return made


def _ending(block: ToneCurve) -> str:
    return f", {block.clip}" if block.ending else ""


def _within(ends: tuple[float, float], most: float) -> tuple[float, float]:
    return max(ends[0], -most), min(ends[1], most)


def _tone(block: ToneCurve, part: Callable[[ToneStep], float | None]) -> Points:
    points: Points = []
    for step in block.steps:
        value = part(step)
        if step.asked_cd_m2 > 0.001 and step.luminance.plain and step.luminance.value and value is not None:
            points.append((step.asked_cd_m2, value, (0.0, 0.0)))
    return points


def halo_plot(block: Halo, *, name: str, simulated: bool) -> Plot | None:
    """Black over the distance to a bright window, one line a side."""
    sides: dict[str, Points] = {}
    for one in block.beside:
        if one.black.plain and one.black.value:
            sides.setdefault(one.side, []).append((one.distance_percent, one.black.value, halves(one.black)))
    if not any(len(points) > 1 for points in sides.values()):
        return None

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        axes.set_yscale("log")
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
            _series(axes, index, side, sorted(points))
        _plain_ticks(axes.yaxis)
        axes.set_xlabel("distance to the window, % of the screen's width")
        axes.set_ylabel("black, cd/m² (logarithmic)")
        legend(axes)

    text = f"Black beside a window of {block.area_percent:g} %, over its distance. {block.behaviour}"
    return Plot(f"{name}-black", "Black beside a bright window", text, draw, simulated)
