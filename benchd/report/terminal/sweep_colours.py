"""The lists of colours and the gamut at each point of a sweep as text."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.results_log import Sweep, SweepRow
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import bare
from benchd.report.terminal.text_page import Page
from benchd.report.words import columns


def sweep_colour_lines(sweep: Sweep, page: Page) -> list[str]:
    """The lists of colours and the first space at each point of a sweep, the data have all; nothing without any."""
    every = dict.fromkeys(name for row in sweep.rows for name in row.figures)
    covered = [name for name in every if name.startswith("coverage of ") and name.endswith(" in u'v'")][:1]
    names = [name for name in every if name.startswith("colour delta E mean")]
    if not names and not covered:
        return []
    heads: list[list[str]] = [[*([""] * len(sweep.controls))], [*sweep.controls]]
    for space in covered:
        heads[0].append(space.removesuffix(" in u'v'"))
        heads[1].append("u'v' 1976, %")
    for name in names:
        block = next(row.figures[name].block for row in sweep.rows if name in row.figures)
        heads[0] += [f"{block.rpartition('/')[2]}, dE00", ""]
        heads[1] += ["mean", "maximum"]
    rows = []
    for row in sweep.rows:
        cells = [str(row.settings[name]) for name in sweep.controls]
        cells += [_cell(row.quantity(space), "%") for space in covered]
        for name in names:
            cells += [_cell(row.quantity(one), "dE00") for one in (name, name.replace(" mean", " maximum", 1))]
        rows.append(cells)
    left = [index for index, name in enumerate(sweep.controls) if isinstance(sweep.rows[0].settings[name], str)]
    lines = ["", *(f"  {row}" for row in columns([*heads, *rows], left=left))]
    whites = dict.fromkeys(white for name in names for white in whites_of(sweep.rows, name))
    if whites:
        lines += page.prose(f"colours: CIEDE2000; white: {' or '.join(whites)}")
    return lines


def whites_of(rows: Sequence[SweepRow], name: str) -> list[str]:
    """The conventions of white that a colour difference has at the points of a sweep."""
    found = [row.figures[name] for row in rows if name in row.figures and row.figures[name].quantity.present]
    return list(dict.fromkeys(dict(one.conditions).get("white", "") for one in found))


def _cell(quantity: Quantity | None, kind: str) -> str:
    return "-" if quantity is None else bare(quantity, kind)
