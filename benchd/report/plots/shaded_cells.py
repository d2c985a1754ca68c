"""Cells of a map: each in the shade of its value, with its figure on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

_ON_DARK, _ON_LIGHT = "#ffffff", "#000000"


def shaded_cells(
    axes: Any,
    values: Sequence[Sequence[float | None]],
    texts: Sequence[Sequence[str]],
    ends: tuple[float, float],
    *,
    more_is_dark: bool,
) -> None:
    """Rows from the top. ``ends`` are those of the shades; a cell without a value stays empty."""
    import matplotlib
    from matplotlib.patches import Rectangle

    low, high = ends
    columns, rows = len(values[0]), len(values)
    shades = matplotlib.colormaps["cividis_r" if more_is_dark else "cividis"]
    axes.grid(False)
    axes.set_xticks(range(columns), [f"c{c + 1}" for c in range(columns)])
    axes.set_yticks(range(rows), [f"r{r + 1}" for r in range(rows)])
    axes.set_xlim(-0.5, columns - 0.5)
    axes.set_ylim(rows - 0.5, -0.5)
    axes.tick_params(length=0)
    for spine in axes.spines.values():
        spine.set_visible(False)
    size = _size(columns, [text for row in texts for text in row])
    for r, row in enumerate(values):
        for c, value in enumerate(row):
            if value is None:
                continue
            shade = shades((value - low) / (high - low) if high > low else 0.5)
            axes.add_patch(Rectangle((c - 0.5, r - 0.5), 1, 1, facecolor=shade, linewidth=0))
            red, green, blue, _ = shade
            light = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2 > 0.18
            colour = _ON_LIGHT if light else _ON_DARK
            axes.text(c, r, texts[r][c], ha="center", va="center", fontsize=size, color=colour)


def _size(columns: int, texts: Sequence[str]) -> float:
    """Type that fits the narrowest cell."""
    longest = max((len(text) for text in texts), default=1)
    return max(4.0, min(9.5, 300.0 / columns / max(longest, 1) / 0.72))
