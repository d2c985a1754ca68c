"""Plots of a tone curve: luminance over what the code asks for, and its error. One block, or several overlaid."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchd.measurements.tone_curve.results import ToneCurve, ToneStep
from benchd.report.figure_text import bare, figure
from benchd.report.plots.plot import Ink, Plot, legend, span
from benchd.report.plots.series import Points, plain_ticks, series, target_line

ASKED = "asked for, cd/m² (logarithmic)"


def plots(several: Sequence[tuple[str, ToneCurve]], name: str, simulated: bool) -> list[Plot]:
    """Luminance over what the code asks for, and its error."""
    made = []
    curves = [(label, _points(block, lambda step: step.luminance.value)) for label, block in several]
    if any(points for _, points in curves):

        def curve(figure: Any) -> None:
            names = {"xlabel": ASKED, "ylabel": "luminance, cd/m² (logarithmic)"}
            axes = figure.subplots(subplot_kw={"xscale": "log", "yscale": "log", **names})
            target_line(axes, [(s.asked_cd_m2, s.target.value) for s in several[0][1].steps if s.asked_cd_m2 > 0])
            for index, (label, points) in enumerate(curves):
                series(axes, index, label or "measured", points)
            if len(several) == 1 and (knee := several[0][1].knee.interval) is not None:
                axes.axvspan(*knee, color=Ink.rule, alpha=0.6, label="knee, 95 % interval", zorder=1)
            axes.minorticks_off()
            plain_ticks(axes.xaxis)
            plain_ticks(axes.yaxis)
            legend(axes)

        said = " ".join(
            f"{label or 'Measured'}: peak {figure(block.peak, 'cd/m2', ' cd/m²')}, "
            f"knee {figure(block.knee, 'cd/m2', ' cd/m²')}{_ending(block)}."
            for label, block in several
        )
        text = f"Luminance over the luminance that the code asks for, both logarithmic. {said}"
        made.append(Plot(f"{name}-curve", f"Tone curve ({several[0][1].transfer.upper()})", text, curve, simulated))
    errors = [(label, _points(block, lambda step: step.error.value)) for label, block in several]
    if any(points for _, points in errors):

        def error(figure: Any) -> None:
            axes = figure.subplots(subplot_kw={"xscale": "log", "xlabel": ASKED, "ylabel": "error of luminance, %"})
            axes.axhline(0, color=Ink.target, linewidth=3.2, alpha=0.45, zorder=2)
            for index, (label, points) in enumerate(errors):
                series(axes, index, label, points)
            axes.minorticks_off()
            plain_ticks(axes.xaxis)
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


def _points(block: ToneCurve, part: Callable[[ToneStep], float | None]) -> Points:
    points: Points = []
    for step in block.steps:
        value = part(step)
        if step.asked_cd_m2 > 0.001 and step.luminance.plain and step.luminance.value and value is not None:
            points.append((step.asked_cd_m2, value, (0.0, 0.0)))
    return points
