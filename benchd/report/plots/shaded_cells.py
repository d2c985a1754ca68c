"""Cells of a map: each in the shade of its value, with its figure on it, and the scale of the shades beside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from benchd.report.plots.plot import SCALE

_ON_DARK, _ON_LIGHT = "#ffffff", "#000000"


STEPS = 20
"""Shades of the scale."""


def shaded_cells(
    figure: Any,
    values: Sequence[Sequence[float | None]],
    texts: Sequence[Sequence[str]],
    ends: tuple[float, float],
    *,
    label: str,
    more_is_dark: bool,
) -> None:
    """Rows from the top. ``ends`` are those of the shades, ``label`` names their scale; no value: an empty cell."""
    import matplotlib
    from matplotlib.collections import PolyCollection

    low, high = ends
    columns, rows = len(values[0]), len(values)
    shades = matplotlib.colormaps["cividis_r" if more_is_dark else "cividis"]
    axes, scale = figure.subplots(1, 2, width_ratios=(22, 1), gridspec_kw={"wspace": 0.06})
    _scale(scale, ends, shades, label)
    axes.grid(False)
    axes.set_xticks(range(columns), [f"c{c + 1}" for c in range(columns)])
    axes.set_yticks(range(rows), [f"r{r + 1}" for r in range(rows)])
    axes.set_xlim(-0.5, columns - 0.5)
    axes.set_ylim(rows - 0.5, -0.5)
    axes.tick_params(length=0)
    for spine in axes.spines.values():
        spine.set_visible(False)
    size = _size(columns, [text for row in texts for text in row])
    squares, colours = [], []
    for r, row in enumerate(values):
        for c, value in enumerate(row):
            if value is None:
                continue
            shade = shades((value - low) / (high - low) if high > low else 0.5)
            squares.append(_square((c - 0.5, r - 0.5), (c + 0.5, r + 0.5)))
            colours.append(shade)
            red, green, blue, _ = shade
            light = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2 > 0.18
            colour = _ON_LIGHT if light else _ON_DARK
            # On the shade of its cell again, so that nothing that lies over the map runs through the figure.
            behind = {"facecolor": shade, "edgecolor": "none", "pad": 0.6}
            style = {"ha": "center", "va": "center", "fontsize": size, "color": colour, "in_layout": False}
            axes.text(c, r, texts[r][c], bbox=behind, **style)
    axes.add_collection(PolyCollection(squares, facecolors=colours, linewidths=0), autolim=False)


def _square(corner: tuple[float, float], opposite: tuple[float, float]) -> list[tuple[float, float]]:
    (left, bottom), (right, top) = corner, opposite
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


def _scale(axes: Any, ends: tuple[float, float], shades: Any, label: str) -> None:
    """Which shade is which figure: the ends of the scale, and round figures between them."""
    low, high = ends
    axes.set_label(SCALE)
    axes.grid(False)
    from matplotlib.collections import PolyCollection

    step = (high - low) / STEPS
    numbers = range(STEPS if high > low else 0)
    bands = [_square((0.0, low + number * step), (1.0, low + (number + 1) * step)) for number in numbers]
    colours = [shades((number + 0.5) / STEPS) for number in numbers]
    axes.add_collection(PolyCollection(bands, facecolors=colours, edgecolors=colours, linewidths=0.3), autolim=False)
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks([])
    axes.set_ylim(low, high if high > low else low + 1.0)
    axes.yaxis.tick_right()
    axes.yaxis.set_label_position("right")
    axes.set_ylabel(label)
    axes.spines[:].set_visible(False)


def _size(columns: int, texts: Sequence[str]) -> float:
    """Type that fits the narrowest cell."""
    longest = max((len(text) for text in texts), default=1)
    return max(4.0, min(9.5, 250.0 / columns / max(longest, 1) / 0.72))
