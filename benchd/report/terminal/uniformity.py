"""Uniformity as text: maps of numbers and the figures drawn from them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence

from benchd.analysis.results import Uniformity, UniformityCell, UniformityLevel
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import bare, figure, line
from benchd.report.plots.map_cells import Map, draw
from benchd.report.terminal.text_page import Page


def uniformity_lines(block: Uniformity, page: Page) -> list[str]:
    """One section for each level of the grid: three maps, then the figures."""
    lines: list[str] = []
    for level in block.levels:
        grid = f"{level.columns} x {level.rows} places"
        share = f"{level.percent:g} % signal, code {level.code}"
        lines += page.heading(f"{block.block} {level.level}", f"{grid}, {share}, seen from the front")
        if any(cell.luminance.present for row in level.grid for cell in row):
            lines += [*draw(_maps(level), page.width), ""]
        lines += _figures(level, page) + page.missing(level.missing)
    return lines + page.method(block.method)


def _maps(level: UniformityLevel) -> list[Map]:
    """Luminance; deviation from the centre, its worst place in brackets; u'v' distance, likewise."""
    from_centre = f"from centre {level.centre}" if level.centre else "from centre"
    # Where even the largest distance is zero to the last digit shown, no place is the worst.
    coloured = level.max_delta_uv.present and bare(level.max_delta_uv, "u'v'").strip("0.") != ""
    maps = [
        Map("luminance, cd/m2", _texts(level, lambda cell: cell.luminance, "cd/m2")),
        Map(
            f"deviation {from_centre}, %",
            _texts(level, lambda cell: cell.deviation, "%", sign=True),
            _place(level.worst_place),
        ),
        Map(
            f"u'v' distance {from_centre}",
            _texts(level, lambda cell: cell.delta_uv, "u'v'"),
            _place(level.max_delta_uv_place) if coloured else None,
        ),
    ]
    # A map without a single figure (a grid that has no centre) would only say so many times over.
    return [one for one in maps if any(text != "-" for row in one.cells for text in row)]


def _texts(
    level: UniformityLevel, part: Callable[[UniformityCell], Quantity], kind: str, *, sign: bool = False
) -> list[list[str]]:
    """One figure of every cell. The scatter of all cells together decides the digits of all of them:

    that of three readings in one cell is too badly known to be worth a ragged map.
    """
    pooled = _pooled([part(cell).s for row in level.grid for cell in row])
    return [[bare(part(cell), kind, sign=sign, scatter=pooled) for cell in row] for row in level.grid]


def _pooled(scatters: Sequence[float | None]) -> float | None:
    """Root of the mean variance, all cells of equal weight; None where no cell has a scatter."""
    known = [scatter for scatter in scatters if scatter is not None]
    return math.sqrt(math.fsum(scatter**2 for scatter in known) / len(known)) if known else None


def _place(name: str | None) -> tuple[int, int] | None:
    match = re.fullmatch(r"r(\d+)c(\d+)", name or "")
    return (int(match[1]), int(match[2])) if match else None


def _figures(level: UniformityLevel, page: Page) -> list[str]:
    pair = level.max_pair_places
    rows = [
        ("mean", level.mean, "cd/m2", " cd/m2", ""),
        ("non-uniformity", level.non_uniformity, "%", " %", "(Lmax - Lmin) / Lmax"),
        ("least / greatest", level.min_over_max, "1", "", "Lmin / Lmax"),
        ("worst deviation", level.worst_deviation, "%", " %", _at(level.worst_place)),
        ("u'v' from centre", level.max_delta_uv, "u'v'", "", _at(level.max_delta_uv_place)),
        ("u'v' of any pair", level.max_pair_delta_uv, "u'v'", "", f"{pair[0]} to {pair[1]}" if pair else ""),
        ("dE00 from centre", level.max_delta_e, "dE00", "", _at(level.max_delta_e_place)),
    ]
    lines: list[str] = []
    reasons: dict[str, list[str]] = {}
    for name, quantity, kind, unit, words in rows:
        if not quantity.present:
            reasons.setdefault(quantity.why, []).append(name)
            continue
        shown = figure(quantity, kind, unit, sign=name == "worst deviation")
        lines += line(name, shown, quantity, kind, width=page.width, also=[words])
    if level.max_delta_e.present:
        lines += page.prose(f"dE00: {level.delta_e_convention}")
    for why, names in reasons.items():
        lines += page.warning(f"absent: {', '.join(names)}: {why}")
    return lines


def _at(place: str | None) -> str:
    return f"at {place}" if place else ""
