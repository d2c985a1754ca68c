"""Cells of a map: each in the shade of its value, with its figure on it, and the scale of the shades beside."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.report.drawing.axes import Area, Axes, Note, Scale
from benchd.report.drawing.axis import Axis
from benchd.report.plots.shades import Shade, shade

_ON_DARK, _ON_LIGHT = "#ffffff", "#000000"


STEPS = 20
"""Shades of the scale."""


def shaded_cells(
    axes: Axes,
    values: Sequence[Sequence[float | None]],
    texts: Sequence[Sequence[str]],
    ends: tuple[float, float],
    *,
    label: str,
    more_is_dark: bool,
) -> None:
    """Rows from the top. ``ends`` are those of the shades, ``label`` names their scale; no value: an empty cell."""
    low, high = ends
    columns, rows = len(values[0]), len(values)

    def shaded(share: float) -> Shade:
        return shade(1.0 - share if more_is_dark else share)

    step = (high - low) / STEPS
    bands = [(low + n * step, low + (n + 1) * step, shaded((n + 0.5) / STEPS).colour) for n in range(STEPS)]
    axes.scale = Scale(tuple(bands) if high > low else (), Axis(label, low, high if high > low else low + 1.0))
    axes.plain = True
    axes.x = Axis("", -0.5, columns - 0.5, ticks=tuple((c, f"c{c + 1}") for c in range(columns)))
    axes.y = Axis("", rows - 0.5, -0.5, ticks=tuple((r, f"r{r + 1}") for r in range(rows)))
    size = _size(columns, [text for row in texts for text in row])
    for r, row in enumerate(values):
        for c, value in enumerate(row):
            if value is None:
                continue
            cell = shaded((value - low) / (high - low) if high > low else 0.5)
            corners = ((c - 0.5, r - 0.5), (c + 0.5, r - 0.5), (c + 0.5, r + 0.5), (c - 0.5, r + 0.5))
            axes.add(Area((corners,), cell.colour))
            ink = _ON_LIGHT if cell.light > 0.18 else _ON_DARK
            # On the shade of its cell again, so that nothing that lies over the map runs through the figure.
            style = Note(texts[r][c], (c, r), (0.0, 0.0), "middle", "middle", size, ink, behind=cell.colour)
            axes.add(style)


def _size(columns: int, texts: Sequence[str]) -> float:
    """Type that fits the narrowest cell."""
    longest = max((len(text) for text in texts), default=1)
    return max(4.0, min(9.5, 250.0 / columns / max(longest, 1) / 0.72))
