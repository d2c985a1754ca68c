"""Plots over a control of the display, and over time: the brightness curve, and the drift of a reference patch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from benchd.analysis.results_log import Drift, Setting, Sweep
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.data.document import point_text
from benchd.report.figure_text import bare
from benchd.report.plots.intervals import error_bars, halves
from benchd.report.plots.plot import DASHES, MARKS, Ink, Plot, legend, span

MAX_LINES = 6
"""More lines than this in one plot overlap; the table has them all."""

Labelled = Sequence[tuple[str, Sweep]]


def sweep_plots(several: Labelled, *, name: str, simulated: bool) -> list[Plot]:
    """White luminance, contrast and colour temperature over the last control that takes numbers."""
    control = _number_control(several[0][1]) if several else None
    if control is None:
        return []
    kinds: tuple[tuple[str, str, str, str, str, str], ...] = (
        ("white", f"White luminance over {control}", "white, cd/m²", "white luminance", "cd/m2", "cd/m²"),
        ("contrast", f"Contrast over {control}", "contrast, :1", "contrast", "1", ":1"),
        ("cct", f"Colour temperature of white over {control}", "CCT, K", "white CCT", "K", "K"),
    )
    made = []
    for key, title, axis, figure, kind, unit in kinds:
        lines = [line for label, sweep in several for line in _lines(label, sweep, control, figure)][:MAX_LINES]
        if any(len(points) > 1 for _, points in lines):
            draw = _over(lines, control, axis, from_zero=key == "white")
            text = f"{title}. {_said(lines, kind, unit)}"
            made.append(Plot(f"{name}-{key}", title, text, draw, simulated))
    return made


def _number_control(sweep: Sweep) -> str | None:
    for name in reversed(sweep.controls):
        values = {row.settings.get(name) for row in sweep.rows}
        if len(values) > 1 and all(isinstance(value, int | float) for value in values):
            return name
    return None


Point = tuple[float, Quantity]
Line = tuple[str, list[Point]]


def _lines(label: str, sweep: Sweep, control: str, figure: str) -> list[Line]:
    """One line for each combination of the other controls."""
    found: dict[str, list[Point]] = {}
    for row in sweep.rows:
        others: Mapping[str, Setting] = {name: value for name, value in row.settings.items() if name != control}
        value, quantity = row.settings.get(control), row.quantity(figure)
        if quantity is not None and quantity.plain and isinstance(value, int | float):
            name = ", ".join(filter(None, (label, point_text(others).replace(",", ", "))))
            found.setdefault(name, []).append((float(value), quantity))
    return list(found.items())


def _over(lines: Sequence[Line], control: str, axis: str, *, from_zero: bool) -> Callable[[Any], None]:
    def draw(figure: Any) -> None:
        axes = figure.subplots()
        seen: list[float] = []
        for index, (label, points) in enumerate(lines):
            x = [value for value, _ in points]
            y = [quantity.value or 0.0 for _, quantity in points]
            reaches = [halves(quantity) for _, quantity in points]
            style = {"color": Ink.series[index], "marker": MARKS[index], "linestyle": DASHES[index]}
            axes.plot(x, y, label=label or None, zorder=3, **style)
            error_bars(axes, x, y, reaches, ecolor=Ink.series[index], elinewidth=0.9, capsize=2)
            for value, (below, above) in zip(y, reaches, strict=True):
                seen += [value, value - below, value + above]
        axes.set_xlabel(f"{control} setting")
        axes.set_ylabel(axis)
        if from_zero:
            axes.set_ylim(0, max(seen) * 1.06)
        else:
            axes.set_ylim(*span(seen, 0.04 * max(abs(value) for value in seen)))
        legend(axes, columns=2)

    return draw


def _said(lines: Sequence[Line], kind: str, unit: str) -> str:
    parts = []
    for label, points in lines:
        (a, low), (b, high) = points[0], points[-1]
        ends = f"{bare(low, kind)} {unit} at {a:g}, {bare(high, kind)} {unit} at {b:g}."
        parts.append(f"{label}: {ends}" if label else ends)
    return " ".join(parts)


def drift_plot(drifts: Sequence[Drift], *, name: str, simulated: bool) -> Plot | None:
    """The change of the reference patch over bench time; each session begins anew at zero minutes."""
    shown = [
        (one, [r for r in one.readings if r.change.plain and r.change.value is not None]) for one in drifts[:MAX_LINES]
    ]
    shown = [(one, readings) for one, readings in shown if len(readings) > 1]
    if not shown:
        return None

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        seen: list[float] = [0.0]
        axes.axhline(0, color=Ink.target, linewidth=1, zorder=1)
        index = 0
        for one, readings in shown:
            for session in sorted({reading.session for reading in readings}):
                some = [reading for reading in readings if reading.session == session]
                x = [reading.minutes for reading in some]
                y = [reading.change.value or 0.0 for reading in some]
                words = [point_text(one.settings).replace(",", ", ")]
                words += [f"session {session}"] if len(one.segments) > 1 else []
                at = index % MAX_LINES
                axes.plot(
                    x,
                    y,
                    color=Ink.series[at],
                    marker=MARKS[at],
                    linestyle=DASHES[at],
                    label=", ".join(filter(None, words)) or None,
                    zorder=3,
                )
                seen += y
                index += 1
        axes.set_xlabel("minutes on the bench")
        axes.set_ylabel("change of luminance, %")
        axes.set_ylim(*span(seen, 0.5))
        legend(axes, columns=2)

    largest = "; ".join(
        filter(None, (f"{point_text(one.settings)} {bare(one.maximum_change, '%', sign=True)} %" for one, _ in shown))
    )
    text = f"Change of the reference patch over time, in percent of its first reading. Largest: {largest.strip()}."
    return Plot(f"{name}-drift", "Drift of the reference patch", text, draw, simulated)
