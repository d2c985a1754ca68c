"""Maps of a uniformity grid: luminance in percent of the centre, and colour distance from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchd.analysis.results import UniformityCell, UniformityLevel
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import bare
from benchd.report.plots.plot import Plot

_ON_DARK, _ON_LIGHT = "#ffffff", "#000000"


def uniformity_plots(level: UniformityLevel, *, name: str, simulated: bool) -> list[Plot]:
    """Two maps, without one that has no figure at all."""
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
        import matplotlib
        from matplotlib.patches import Rectangle

        axes = figure.subplots()
        values: list[list[float]] = [[_value(one) for one in row] for row in cells]
        known = [value for row in values for value in row if value == value]
        low, high = min(known), max(known)
        if kind == "u'v'":  # further from the centre: darker, as with luminance; never more drama than 0.004 is worth
            low, high = 0.0, max(high, 0.004)
        elif kind == "%":
            low, high = min(low, -10.0), max(high, 0.0)
        shades = matplotlib.colormaps["cividis_r" if kind == "u'v'" else "cividis"]
        axes.grid(False)
        axes.set_xticks(range(level.columns), [f"c{c + 1}" for c in range(level.columns)])
        axes.set_yticks(range(level.rows), [f"r{r + 1}" for r in range(level.rows)])
        axes.set_xlim(-0.5, level.columns - 0.5)
        axes.set_ylim(level.rows - 0.5, -0.5)
        axes.tick_params(length=0)
        for spine in axes.spines.values():
            spine.set_visible(False)
        size = _size(level.columns, [_text(one, kind, sign) for row in cells for one in row])
        for r, row in enumerate(cells):
            for c, one in enumerate(row):
                if not one.present:
                    continue
                shade = shades((values[r][c] - low) / (high - low) if high > low else 0.5)
                axes.add_patch(Rectangle((c - 0.5, r - 0.5), 1, 1, facecolor=shade, linewidth=0))
                red, green, blue, _ = shade
                light = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2 > 0.18
                axes.text(
                    c,
                    r,
                    _text(one, kind, sign),
                    ha="center",
                    va="center",
                    fontsize=size,
                    color=_ON_LIGHT if light else _ON_DARK,
                )
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


def _value(quantity: Quantity) -> float:
    return float("nan") if quantity.value is None else quantity.value


def _size(columns: int, texts: Sequence[str]) -> float:
    """Type that fits the narrowest cell."""
    longest = max((len(text) for text in texts), default=1)
    return max(4.0, min(9.5, 300.0 / columns / max(longest, 1) / 0.72))
