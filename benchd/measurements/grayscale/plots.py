"""Plots of a grayscale: luminance and its error, gamma, RGB balance, colour difference. One block, or several."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.grayscale.results import POINT_RULE, Grayscale, GrayStep
from benchd.report.digits import number
from benchd.report.plots.intervals import AIMED, Points, error_bars, halves, target_line
from benchd.report.plots.plot import DASHES, HEIGHT_IN, MARKS, Ink, Plot, legend, span
from benchd.report.words import capital

Labelled = Sequence[tuple[str, Grayscale]]
"""Grayscale blocks, each with what to call it; a single one needs no name."""

HATCHES = ("", "////", "....", "xxxx", "----", "||||")
_DARKEST = 0.02
"""Below this signal the ratio of two small luminances is mostly noise: not in a plot, but in the table."""


def plots(several: Labelled, name: str, simulated: bool) -> list[Plot]:
    """The plots of a grayscale, without those that have nothing to show."""
    shown = [(label, block) for label, block in several if block.steps]
    if not shown:
        return []
    made = [_tone(shown, name, simulated)]
    if any(step.luminance_error.plain for _, block in shown for step in block.steps):
        made.append(_error(shown, name, simulated))
    if any(step.point_gamma.plain for _, block in shown for step in block.steps):
        made.append(_gamma(shown, name, simulated))
    if any(step.rgb_balance[0].plain for _, block in shown for step in block.steps):
        made.append(_balance(shown, name, simulated))
    if any(_difference(block, step).plain for _, block in shown for step in block.steps):
        made.append(_delta_e(shown, name, simulated))
    return made


def _points(block: Grayscale, part: Callable[[GrayStep], Quantity]) -> Points:
    """Signal in percent, value and the `halves` of its interval, of every plain value."""
    several = ((100.0 * step.signal, part(step)) for step in block.steps)
    return [(signal, one.value, halves(one)) for signal, one in several if one.plain and one.value is not None]


def _line(axes: Any, index: int, label: str, points: Points) -> None:
    x, y = [point[0] for point in points], [point[1] for point in points]
    colour = Ink.series[index % len(Ink.series)]
    style = {"color": colour, "marker": MARKS[index % len(MARKS)], "linestyle": DASHES[index % len(DASHES)]}
    axes.plot(x, y, label=label or None, zorder=3, **style)
    if any(any(reach) for _, _, reach in points):
        low, high = ([value + sign * reach[end] for _, value, reach in points] for end, sign in enumerate((-1, 1)))
        axes.fill_between(x, low, high, color=colour, alpha=0.18, linewidth=0, zorder=2)


def _tone(several: Labelled, name: str, simulated: bool) -> Plot:
    def draw(figure: Any) -> None:
        axes = _axes(figure, "luminance, cd/m² (logarithmic)", yscale="log")
        target_line(axes, [(100 * step.signal, step.target_luminance.value) for step in several[0][1].steps])
        for index, (label, block) in enumerate(several):
            lit = [point for point in _points(block, lambda step: step.luminance) if point[1] > 0]
            if lit:
                _line(axes, index, label or "measured", lit)
            bounds = [
                (100 * s.signal, s.luminance.value) for s in block.steps if s.luminance.bound and s.luminance.value
            ]
            if bounds:
                axes.plot(*zip(*bounds, strict=True), "v", color=Ink.series[index % 6], fillstyle="none", markersize=7)
        axes.yaxis.set_major_formatter(lambda value, _: f"{value:g}")
        axes.minorticks_off()
        legend(axes)

    said = _ends(several, lambda step: step.luminance, "cd/m2", "cd/m²")
    text = f"Luminance of the grey steps over the signal, with the target's curve. {said}"
    return Plot(f"{name}-luminance", "Grayscale: luminance", text, draw, simulated)


def _error(several: Labelled, name: str, simulated: bool) -> Plot:
    def draw(figure: Any) -> None:
        axes = _axes(figure, "luminance error, %")
        axes.axhline(0, **AIMED, label="target", zorder=2)
        lines = [_points(block, lambda step: step.luminance_error) for _, block in several]
        for index, (label, _) in enumerate(several):
            _line(axes, index, label or "measured", lines[index])
        axes.set_ylim(*span([0.0, *(point[1] for line in lines for point in line)], 4.0))
        legend(axes)

    said = _ends(several, lambda step: step.luminance_error, "%", "%")
    text = f"How far the luminance of each grey step is from the target's curve, in percent of it. {said}"
    return Plot(f"{name}-luminance-error", "Grayscale: luminance error", text, draw, simulated)


def _gamma(several: Labelled, name: str, simulated: bool) -> Plot:
    def draw(figure: Any) -> None:
        axes = _axes(figure, "point gamma, ln(L / Lwhite) / ln V")
        aimed = _target_gamma(several[0][1])
        target_line(axes, aimed)
        lines = [_above_dark(_points(block, lambda step: step.point_gamma)) for _, block in several]
        for index, (label, _) in enumerate(several):
            _line(axes, index, label or "measured", lines[index])
        if seen := [*(y for _, y in aimed), *(point[1] for line in lines for point in line)]:
            axes.set_ylim(*span(seen, 0.6))
        legend(axes)

    said = _ends(several, lambda step: step.point_gamma, "gamma", "")
    text = f"Gamma of each grey step. {capital(POINT_RULE)}. {said}"
    return Plot(f"{name}-gamma", "Grayscale: point gamma of each step", text, draw, simulated)


def _target_gamma(block: Grayscale) -> list[tuple[float, float]]:
    """The same figure of the target's own curve, from its luminance at each step."""
    white = max((step.target_luminance.value or 0.0 for step in block.steps), default=0.0)
    return [
        (100 * step.signal, math.log(step.target_luminance.value / white) / math.log(step.signal))
        for step in block.steps
        if _DARKEST < step.signal < 1 and step.target_luminance.value and white > 0
    ]


def _above_dark(points: Points) -> Points:
    return [point for point in points if point[0] > 100 * _DARKEST]


def _balance(several: Labelled, name: str, simulated: bool) -> Plot:
    def draw(figure: Any) -> None:
        axes = _axes(figure, "share of the target's white, %")
        axes.axhline(100, **AIMED, zorder=2)
        seen = [100.0]
        colours = (("red", Ink.red, "^"), ("green", Ink.green, "s"), ("blue", Ink.blue, "o"))
        for index, (_, block) in enumerate(several):
            for channel, (word, colour, mark) in enumerate(colours):
                points = _above_dark(_points(block, lambda step, c=channel: step.rgb_balance[c]))  # type: ignore[misc]
                x, y = [point[0] for point in points], [100 * point[1] for point in points]
                named = word if index == 0 else None
                axes.plot(x, y, color=colour, marker=mark, linestyle=DASHES[index % len(DASHES)], label=named, zorder=3)
                seen += y
        if len(several) > 1:
            for index, (label, _) in enumerate(several):
                axes.plot([], [], color=Ink.text, linestyle=DASHES[index % len(DASHES)], label=label)
        axes.set_ylim(*span(seen, 10))
        legend(axes, columns=3)

    text = (
        "The colour of the grey steps alone: red, green and blue light in percent of the target's white at the "
        "luminance of the step; at 100 % all three have the target's colour. "
    )
    ends = [
        (word, [100 * (step.rgb_balance[c].value or 0) for step in several[0][1].steps if step.rgb_balance[c].plain])
        for c, word in enumerate(("red", "green", "blue"))
    ]
    text += "; ".join(f"{word} {min(v):.1f} to {max(v):.1f} %" for word, v in ends if v) + "."
    high = HEIGHT_IN if len(several) == 1 else HEIGHT_IN + 0.4  # the colours and the logs are in its legend
    return Plot(f"{name}-balance", "Grayscale: RGB balance, colour alone", text, draw, simulated, height_in=high)


def _difference(block: Grayscale, step: GrayStep) -> Quantity:
    return getattr(step.delta_e, block.primary)  # type: ignore[no-any-return]


def _delta_e(several: Labelled, name: str, simulated: bool) -> Plot:
    def draw(figure: Any) -> None:
        axes = _axes(figure, "ΔE₀₀")
        top, wide = 1.5, 3.6 / len(several)
        for index, (label, block) in enumerate(several):
            points = _points(block, lambda step, b=block: _difference(b, step))  # type: ignore[misc]
            x = [point[0] + wide * (index - (len(several) - 1) / 2) for point in points]
            y, reaches = [point[1] for point in points], [point[2] for point in points]
            # Told apart by their hatching too.
            style = {"facecolor": Ink.series[index % 6], "hatch": HATCHES[index % len(HATCHES)], "edgecolor": Ink.paper}
            axes.bar(x, y, width=wide * 0.86, label=label or "measured", linewidth=0, zorder=3, **style)
            error_bars(axes, x, y, reaches, ecolor=Ink.text, elinewidth=0.8, capsize=1.5, zorder=4)
            top = max([top, *(value + above for _, value, (_, above) in points)])
        axes.axhline(1, color=Ink.target, linewidth=1, linestyle=(0, (4, 3)), label="difference of 1", zorder=2)
        axes.set_ylim(0, top * 1.08)
        legend(axes)

    said = _ends(several, lambda step: _difference(several[0][1], step), "dE00", "")
    text = f"Colour difference (CIEDE2000) of the grey steps from the target; a dashed line at 1. {said}"
    return Plot(f"{name}-delta-e", "Grayscale: colour difference", text, draw, simulated, filled=True)


def _axes(figure: Any, ylabel: str, **more: Any) -> Any:
    """Axes over the signal."""
    ticks = [0, 20, 40, 60, 80, 100]
    return figure.subplots(
        subplot_kw={"xlim": (-3, 103), "xticks": ticks, "xlabel": "signal, %", "ylabel": ylabel, **more}
    )


def _ends(several: Labelled, part: Callable[[GrayStep], Quantity], kind: str, unit: str) -> str:
    """``measured: from 0.3 cd/m² at 0 % to 350 cd/m² at 100 %`` in place of the plot, for readers without it."""
    parts = []
    for label, block in several:
        plain = [(step.signal, part(step).value) for step in block.steps if part(step).plain]
        known = [(signal, value) for signal, value in plain if value is not None]
        if known:
            (a, low), (b, high) = min(known, key=lambda one: one[1]), max(known, key=lambda one: one[1])
            lowest, highest = f"{number(low, kind)} {unit}".strip(), f"{number(high, kind)} {unit}".strip()
            parts.append(
                f"{label or 'Measured'}: minimum {lowest} at {100 * a:.0f} %, maximum {highest} at {100 * b:.0f} %."
            )
    return " ".join(parts)
