"""Maps of numbers: a grid of the screen as it would be seen from the front, row 1 at the top."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import NamedTuple

GAP = "     "


class MapText(NamedTuple):
    """A grid of texts (rows from the top) under a title; the cell ``marked`` (row, column) gets brackets."""

    title: str
    cells: Sequence[Sequence[str]]
    marked: tuple[int, int] | None = None


def draw(maps: Sequence[MapText], width: int, indent: str = "  ") -> list[str]:
    """The maps side by side as far as ``width`` goes, then under one another.

    A map that is wider than the page is cut into bands of columns.
    """
    bands = [band for one in maps for band in _bands(one, width - len(indent))]
    lines: list[str] = []
    row: list[list[str]] = []
    for band in bands:
        if row and len(indent) + _across([*row, band]) > width:
            lines += [*_beside(row, indent), ""]
            row = []
        row.append(band)
    return lines + _beside(row, indent) if row else lines[:-1]


def _across(blocks: Sequence[Sequence[str]]) -> int:
    return sum(max(map(len, block)) for block in blocks) + len(GAP) * (len(blocks) - 1)


def _beside(blocks: Sequence[Sequence[str]], indent: str) -> list[str]:
    widths = [max(map(len, block)) for block in blocks]
    rows = zip_longest(*blocks, fillvalue="")
    parts = ([part.ljust(width) for part, width in zip(row, widths, strict=True)] for row in rows)
    return [(indent + GAP.join(row)).rstrip() for row in parts]


def _bands(one: MapText, width: int) -> list[list[str]]:
    """The map as blocks of lines, each at most ``width`` wide (a single column always fits)."""
    cells = _aligned(one)
    labels = [f"r{row}" for row in range(1, len(cells) + 1)]
    left = max(map(len, labels))
    cell_width = max(max(len(text) for row in cells for text in row), len(f"c{len(cells[0])}") + 1)
    fit = max(1, (width - left) // (cell_width + 1))
    bands = []
    for start in range(0, len(cells[0]), fit):
        columns = range(start, min(start + fit, len(cells[0])))
        title = one.title if len(columns) == len(cells[0]) else f"{one.title}, c{start + 1} to c{columns[-1] + 1}"
        head = " " * left + "".join(f" {f'c{column + 1}'.rjust(cell_width - 1)} " for column in columns)
        band = [title, head.rstrip()]
        for label, row in zip(labels, cells, strict=True):
            band.append(label.ljust(left) + "".join(f" {row[column].rjust(cell_width)}" for column in columns))
        bands.append(band)
    return bands


def _aligned(one: MapText) -> list[list[str]]:
    """Cells with their decimal points under one another, and brackets or blanks around each."""
    tails = [[len(text.partition(".")[2]) + ("." in text) for text in row] for row in one.cells]
    longest = max((tail for row in tails for tail in row), default=0)
    cells = []
    for r, row in enumerate(one.cells):
        marks = [("[", "]") if (r + 1, c + 1) == one.marked else ("", " ") for c in range(len(row))]
        padded = zip(row, marks, tails[r], strict=True)
        cells.append([f"{before}{text}{after}{' ' * (longest - tail)}" for text, (before, after), tail in padded])
    return cells
