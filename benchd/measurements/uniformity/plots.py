"""Maps of a uniformity grid: luminance in percent of the centre, and colour distance from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.uniformity.results import Uniformity, UniformityCell, UniformityLevel
from benchd.report.figure_text import bare
from benchd.report.plots.plot import Plot
from benchd.report.plots.shaded_cells import shaded_cells
from benchd.report.words import plain


def plots(several: Sequence[tuple[str, Uniformity]], name: str, simulated: bool) -> list[Plot]:
    """Two maps a level, without one that has no figure at all; maps of several logs can't be laid over each other."""
    if len(several) > 1:
        return []
    return [
        replace(plot, under=level.level)
        for level in several[0][1].levels
        for plot in _level(level, f"{name}-{plain(level.level)}", simulated)
    ]


def _level(level: UniformityLevel, name: str, simulated: bool) -> list[Plot]:
    from_centre = f"from the centre {level.centre}" if level.centre else "from the centre"
    at = f"{level.level}: "
    worst = f" Worst place: {level.worst_place}, {bare(level.worst_deviation, '%', sign=True)} %."
    made = []
    if _any(level, lambda cell: cell.deviation):
        text = f"{at}luminance of {level.columns} by {level.rows} places, in percent {from_centre}."
        text += worst if level.worst_place else ""
        draw = _map(level, lambda cell: cell.deviation, "%", sign=True, label=f"luminance, % {from_centre}")
        made.append(Plot(f"{name}-luminance", f"Uniformity, {at}luminance", text, draw, simulated, filled=True))
    elif _any(level, lambda cell: cell.luminance):
        text = f"{at}luminance of {level.columns} by {level.rows} places."
        draw = _map(level, lambda cell: cell.luminance, "cd/m2", label="luminance, cd/m²")
        made.append(Plot(f"{name}-luminance", f"Uniformity, {at}luminance", text, draw, simulated, filled=True))
    if _any(level, lambda cell: cell.delta_uv):
        largest = bare(level.max_delta_uv, "u'v'")
        text = f"{at}distance in u'v' {from_centre}, largest {largest}"
        text += f" at {level.max_delta_uv_place}." if level.max_delta_uv_place else "."
        draw = _map(level, lambda cell: cell.delta_uv, "u'v'", label=f"u′v′ distance {from_centre}")
        made.append(Plot(f"{name}-colour", f"Uniformity, {at}colour", text, draw, simulated, filled=True))
    return made


def _any(level: UniformityLevel, part: Callable[[UniformityCell], Quantity]) -> bool:
    return any(part(cell).present for row in level.grid for cell in row)


def _map(
    level: UniformityLevel, part: Callable[[UniformityCell], Quantity], kind: str, *, label: str, sign: bool = False
) -> Callable[[Any], None]:
    cells = [[part(cell) for cell in row] for row in level.grid]

    def draw(figure: Any) -> None:
        known = [one.value for row in cells for one in row if one.value is not None]
        low, high = min(known), max(known)
        if kind == "u'v'":  # further from the centre: darker, as with luminance; never more drama than 0.004 is worth
            low, high = 0.0, max(high, 0.004)
        elif kind == "%":
            low, high = min(low, -10.0), max(high, 0.0)
        texts = [[_text(one, kind, sign) if one.present else "" for one in row] for row in cells]
        values = [[one.value for one in row] for row in cells]
        axes = figure.subplots()
        shaded_cells(axes, values, texts, (low, high), more_is_dark=kind == "u'v'")
        axes.set_title(label, fontsize=9, loc="left", pad=6)

    return draw


def _text(quantity: Quantity, kind: str, sign: bool) -> str:
    """The same digits in every cell: a map is looked at as a whole; the table beside it has every digit."""
    if not quantity.plain or quantity.value is None:
        return bare(quantity, kind, sign=sign) if quantity.present else "–"
    if kind == "cd/m2":
        return bare(quantity, kind)
    shown = f"{quantity.value:{'+' if sign else ''}.{1 if kind == '%' else 4}f}"
    return ("0.0" if float(shown) == 0 and kind == "%" else shown).replace("-", "−")
