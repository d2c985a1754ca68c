"""Plots over a control of the display, and over time: the brightness curve, and the drift of a reference patch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from benchd.analysis.catalogue import of_points
from benchd.analysis.results_log import Drift, Setting, Sweep
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.data.document import point_text
from benchd.report.drawing.axes import Axes, level
from benchd.report.drawing.axis import Axis
from benchd.report.figure_text import bare
from benchd.report.plots.intervals import Points, halves, series
from benchd.report.plots.plot import Ink, Plot, span
from benchd.report.units import printed, titled, unit_text
from benchd.report.words import plain

MAX_LINES = 6
"""More lines than this in one plot overlap; the table has them all."""
MAX_PLOTS = 6
"""Of a sweep; the table has the other figures."""

Labelled = Sequence[tuple[str, Sweep]]


def sweep_plots(several: Labelled, *, name: str, simulated: bool) -> list[Plot]:
    """The leading figures, those of rank 0, over the last control that takes numbers."""
    control = _number_control(several[0][1]) if several else None
    if control is None:
        return []
    made = []
    every = of_points(row for _, sweep in several for row in sweep.rows).values()
    for one in [one for one in every if one.rank == 0][:MAX_PLOTS]:
        lines = [line for label, sweep in several for line in _lines(label, sweep, control, one.name)][:MAX_LINES]
        if any(len(points) > 1 for _, points in lines):
            unit = printed(unit_text(one.unit))
            axis = f"{printed(one.name)}, {unit}" if unit else printed(one.name)
            title = f"{titled(one.name)} over {control}"
            draw = _over(lines, control, axis, from_zero=one.unit == "cd/m2")
            text = f"{title}. {_said(lines, one.unit, unit)}"
            made.append(Plot(f"{name}-{plain(one.short or one.name)}", title, text, draw, simulated))
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
            name = ", ".join(filter(None, (label, _spaced(others))))
            found.setdefault(name, []).append((float(value), quantity))
    return list(found.items())


def _spaced(settings: Mapping[str, Setting]) -> str:
    return point_text(settings).replace(",", ", ")


def _over(lines: Sequence[Line], control: str, axis: str, *, from_zero: bool) -> Callable[[Axes], None]:
    def draw(axes: Axes) -> None:
        seen: list[float] = []
        for index, (label, points) in enumerate(lines):
            shown = [(value, quantity.value or 0.0, halves(quantity)) for value, quantity in points]
            axes.add(*series(index, label, shown))
            seen += [end for _, value, (below, above) in shown for end in (value, value - below, value + above)]
        axes.x = Axis(f"{control} setting")
        ends = (0.0, max(seen) * 1.06) if from_zero else span(seen, 0.04 * max(map(abs, seen)))
        axes.y = Axis(axis, *ends)
        axes.columns = 2

    return draw


def _said(lines: Sequence[Line], kind: str, unit: str) -> str:
    parts = []
    for label, points in lines:
        (a, low), (b, high) = points[0], points[-1]
        ends = f"{bare(low, kind)} {unit} at {a:g}, {bare(high, kind)} {unit} at {b:g}.".replace("  ", " ")
        parts.append(f"{label}: {ends}" if label else ends)
    return " ".join(parts)


def drift_plot(drifts: Sequence[Drift], *, name: str, simulated: bool) -> Plot | None:
    """The change of the reference patch over bench time; each session begins anew at zero minutes.

    Of many points of a sweep those with the largest change.
    """
    every = []
    for one in drifts:
        known = [reading for reading in one.readings if reading.change.plain and reading.change.value is not None]
        every += [(one, known)] if len(known) > 1 else []
    if not every:
        return None
    largest_first = sorted(every, key=lambda found: -abs(found[0].maximum_change.value or 0.0))[:MAX_LINES]
    shown = [found for found in every if found in largest_first]
    lines: list[tuple[str, Points]] = []
    for one, readings in shown:
        for session in sorted({reading.session for reading in readings}):
            words = (_spaced(one.settings), f"session {session}" if len(one.segments) > 1 else "")
            own = (reading for reading in readings if reading.session == session)
            points = [(reading.minutes, reading.change.value or 0.0, (0.0, 0.0)) for reading in own]
            lines.append((", ".join(filter(None, words)), points))

    def draw(axes: Axes) -> None:
        axes.add(level(0.0, Ink.target))
        for index, (label, points) in enumerate(lines):
            axes.add(*series(index, label, points))
        seen = [0.0, *(value for _, points in lines for _, value, _ in points)]
        axes.x = Axis("minutes on the bench")
        axes.y = Axis("change of luminance, %", *span(seen, 0.5))
        axes.columns = 2

    largest = "; ".join(
        filter(None, (f"{point_text(one.settings)} {bare(one.maximum_change, '%', sign=True)} %" for one, _ in shown))
    )
    of = f" Drawn: the {len(shown)} of {len(every)} points with the largest change." if len(shown) < len(every) else ""
    text = f"Change of the reference patch over time, in percent of its first reading.{of} Largest: {largest.strip()}."
    return Plot(f"{name}-drift", "Drift of the reference patch", text, draw, simulated, under="Drift")
