"""Plots of a grayscale: luminance and its error, gamma, RGB balance, colour difference. One block, or several."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from benchd.analysis.uncertainty.quantity import Quantity, ratio, scaled
from benchd.measurements.grayscale.results import POINT_RULE, Grayscale, GrayStep
from benchd.report.digits import number
from benchd.report.drawing.axes import Area, Axes, Curve, Item, level
from benchd.report.drawing.axis import Axis
from benchd.report.drawing.marks import HATCHES, MARKS
from benchd.report.plots.intervals import Points, agreed, error_bars, halves, target_level, target_line
from benchd.report.plots.plot import DASHES, HEIGHT_IN, Ink, Plot, span
from benchd.report.words import capital

Labelled = Sequence[tuple[str, Grayscale]]
"""Grayscale blocks, each with what to call it; a single one needs no name."""

SIGNAL = Axis("signal, %", -3.0, 103.0, ticks=tuple((at, f"{at:g}") for at in (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)))
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


def _line(index: int, label: str, points: Points) -> Iterator[Item]:
    at = index % len(Ink.series)
    if any(any(reach) for _, _, reach in points):
        low = [(x, value - below) for x, value, (below, _) in points]
        high = [(x, value + above) for x, value, (_, above) in points]
        yield Area(([*low, *reversed(high)],), Ink.series[at], 0.18)
    yield Curve([(x, y) for x, y, _ in points], Ink.series[at], MARKS[at], DASHES[at], label=label, order=3)


def _tone(several: Labelled, name: str, simulated: bool) -> Plot:
    """In cd/m2; of several displays, each of its own luminance, in % of its own white."""
    shares = [(label, _of_white(block)) for label, block in several]
    relative = len(several) > 1 and all(block.steps for _, block in shares)
    shown = shares if relative else several
    unit, kind = ("% of white", "%") if relative else ("cd/m²", "cd/m2")
    targets = [_aimed(block) for _, block in shown]

    def draw(axes: Axes) -> None:
        axes.x, axes.y = SIGNAL, Axis(f"luminance, {unit} (logarithmic)", kind="logarithmic")
        axes.add(*target_line(agreed(targets)))
        for index, (label, block) in enumerate(shown):
            lit = [point for point in _points(block, lambda step: step.luminance) if point[1] > 0]
            if lit:
                axes.add(*_line(index, label or "measured", lit))
            bounds = [
                (100 * s.signal, s.luminance.value) for s in block.steps if s.luminance.bound and s.luminance.value
            ]
            if bounds:
                axes.add(Curve(bounds, Ink.series[index % 6], "v", mark_size=7.0, joined=False, hollow=True))

    said = _ends(shown, lambda step: step.luminance, kind, unit)
    of = ", each in percent of its own white" if relative else ""
    text = f"Luminance of the grey steps over the signal{of}, {_target_words(targets)}. {said}"
    return Plot(f"{name}-luminance", "Grayscale: luminance", text, draw, simulated)


def _aimed(block: Grayscale) -> list[tuple[float, float]]:
    """Signal in percent and the target's luminance, of the steps that have a target above zero."""
    several = ((100 * step.signal, step.target_luminance.value) for step in block.steps)
    return [(signal, value) for signal, value in several if value]


def _target_words(targets: Sequence[Sequence[tuple[float, float]]]) -> str:
    if agreed(targets):
        return "with the target's curve"
    return "without the target's curve, which is not the same for all" if any(targets) else "without a target"


def _of_white(block: Grayscale) -> Grayscale:
    """The block with its luminances in % of its white; without steps where that is not known."""
    white = next((step.luminance for step in block.steps if step.signal == 1.0 and step.luminance.plain), None)
    if white is None:
        return replace(block, steps=())

    def share(luminance: Quantity) -> Quantity:
        return scaled(ratio(luminance, white), 100.0, "%")

    steps = (
        replace(step, luminance=share(step.luminance), target_luminance=share(step.target_luminance))
        for step in block.steps
    )
    return replace(block, steps=tuple(steps))


def _error(several: Labelled, name: str, simulated: bool) -> Plot:
    def draw(axes: Axes) -> None:
        axes.add(target_level(0.0, "target"))
        lines = [_points(block, lambda step: step.luminance_error) for _, block in several]
        for index, (label, _) in enumerate(several):
            axes.add(*_line(index, label or "measured", lines[index]))
        ends = span([0.0, *(point[1] for line in lines for point in line)], 4.0)
        axes.x, axes.y = SIGNAL, Axis("luminance error, %", *ends)

    said = _ends(several, lambda step: step.luminance_error, "%", "%")
    text = f"How far the luminance of each grey step is from the target's curve, in percent of it. {said}"
    return Plot(f"{name}-luminance-error", "Grayscale: luminance error", text, draw, simulated)


def _gamma(several: Labelled, name: str, simulated: bool) -> Plot:
    targets = [_target_gamma(block) for _, block in several]
    aimed = agreed(targets)

    def draw(axes: Axes) -> None:
        axes.add(*target_line(aimed))
        lines = [_above_dark(_points(block, lambda step: step.point_gamma)) for _, block in several]
        for index, (label, _) in enumerate(several):
            axes.add(*_line(index, label or "measured", lines[index]))
        seen = [*(y for _, y in aimed), *(point[1] for line in lines for point in line)]
        axes.x, axes.y = (
            SIGNAL,
            Axis("point gamma, ln(L / Lwhite) / ln V", *(span(seen, 0.6) if seen else (None, None))),
        )

    said = _ends(several, lambda step: step.point_gamma, "gamma", "")
    text = f"Gamma of each grey step, {_target_words(targets)}. {capital(POINT_RULE)}. {said}"
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
    def draw(axes: Axes) -> None:
        axes.add(target_level(100.0))
        seen = [100.0]
        colours = (("red", Ink.red, "^"), ("green", Ink.green, "s"), ("blue", Ink.blue, "o"))
        for index, (_, block) in enumerate(several):
            for channel, (word, colour, mark) in enumerate(colours):
                points = _above_dark(_points(block, lambda step, c=channel: step.rgb_balance[c]))  # type: ignore[misc]
                places = [(x, 100 * y) for x, y, _ in points]
                named = word if index == 0 else ""
                axes.add(Curve(places, colour, mark, DASHES[index % len(DASHES)], label=named, order=3))
                seen += [y for _, y in places]
        if len(several) > 1:
            for index, (label, _) in enumerate(several):
                axes.add(Curve((), Ink.text, dash=DASHES[index % len(DASHES)], label=label))
        axes.x, axes.y = SIGNAL, Axis("share of the target's white, %", *span(seen, 10))

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
    def draw(axes: Axes) -> None:
        top, wide = 1.5, 3.6 / len(several)
        for index, (label, block) in enumerate(several):
            points = _points(block, lambda step, b=block: _difference(b, step))  # type: ignore[misc]
            aside, half = wide * (index - (len(several) - 1) / 2), wide * 0.43
            points = [(x + aside, y, reach) for x, y, reach in points]
            bars = [((x - half, 0.0), (x + half, 0.0), (x + half, y), (x - half, y)) for x, y, _ in points]
            at = index % len(Ink.series)
            # Told apart by their hatching too.
            axes.add(Area(bars, Ink.series[at], hatch=index % len(HATCHES), label=label or "measured", order=3))
            axes.add(error_bars(points, Ink.text, order=4))
            top = max([top, *(value + above for _, value, (_, above) in points)])
        axes.add(level(1.0, Ink.target, dash=(4, 3), label="difference of 1"))
        axes.x, axes.y = SIGNAL, Axis("ΔE₀₀", 0.0, top * 1.08)

    said = _ends(several, lambda step: _difference(several[0][1], step), "dE00", "")
    text = f"Colour difference (CIEDE2000) of the grey steps from the target; a dashed line at 1. {said}"
    return Plot(f"{name}-delta-e", "Grayscale: colour difference", text, draw, simulated, filled=True)


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
