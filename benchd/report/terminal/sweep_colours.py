"""The lists of colours and the gamut at each point of a sweep as text."""

from __future__ import annotations

from benchd.analysis.results_swept import Sweep
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import bare
from benchd.report.terminal.text_page import Page
from benchd.report.words import columns


def sweep_colour_lines(sweep: Sweep, page: Page) -> list[str]:
    """The lists of colours and the gamut at each point of a sweep; nothing where none is measured."""
    names = dict.fromkeys(one.name for row in sweep.rows for one in row.colours)
    covered = dict.fromkeys(row.coverage_space for row in sweep.rows if row.coverage_space)
    if not names and not covered:
        return []
    heads: list[list[str]] = [[*([""] * len(sweep.controls))], [*sweep.controls]]
    for space in covered:
        heads[0].append(f"coverage of {space}")
        heads[1].append("u'v' 1976, %")
    for name in names:
        heads[0] += [f"{name}, dE00", ""]
        heads[1] += ["mean", "greatest"]
    rows = []
    for row in sweep.rows:
        cells = [str(row.settings[name]) for name in sweep.controls]
        cells += [_cell(row.coverage_uv if row.coverage_space == space else None, "%") for space in covered]
        for name in names:
            found = next((one for one in row.colours if one.name == name), None)
            cells += [_cell(found.mean if found else None, "dE00"), _cell(found.maximum if found else None, "dE00")]
        rows.append(cells)
    left = [index for index, name in enumerate(sweep.controls) if isinstance(sweep.rows[0].settings[name], str)]
    lines = ["", *(f"  {row}" for row in columns([*heads, *rows], left=left))]
    conventions = dict.fromkeys(one.convention for row in sweep.rows for one in row.colours)
    if conventions:
        lines += page.prose(f"colours: CIEDE2000 under the convention {' and '.join(conventions)}")
    return lines


def _cell(quantity: Quantity | None, kind: str) -> str:
    return "-" if quantity is None else bare(quantity, kind)
