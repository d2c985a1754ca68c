"""Draws a section on a terminal: lines of figures, tables as wide as there is room, maps of numbers, sentences."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from itertools import groupby
from typing import NamedTuple

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.digits import number
from benchd.report.figure_text import NAME, bare, beside_reach, common_place, figure, flow, line, map_texts, reach
from benchd.report.model import (
    OF_UNCERTAINTY,
    Amount,
    Column,
    Heading,
    Item,
    Judged,
    Line,
    Map,
    Named,
    Section,
    Table,
    Together,
    Value,
    Words,
    notes_below,
)
from benchd.report.terminal.map_cells import MapText, draw
from benchd.report.terminal.text_page import Page, page_for
from benchd.report.units import behind, unit_text
from benchd.report.words import columns_within, paint, unbroken, wrapped

PLUS_MINUS = "\u00b1 "
MIN_WORDS = 12
"""A column of words is not set narrower than this."""
MIN_AMOUNT = 11
"""Nor one of figures with their unit."""
AT_EASE = 17
"""Names and figures with their unit are all set as narrow as this before one of them is set narrower."""
NARROW = 9
"""A column of names is not set narrower than this."""
STYLES = {
    "met": "green",
    "not met": "red",
    "inconclusive": "yellow",
    "point not named": "yellow",
    "not measured": "dim",
}
"""Colours of verdicts."""
FEW = 5
"""Tables of at most so many rows say in sentences what uncertainty has no room in columns."""


def sections_text(sections: Sequence[Section], *, simulated: bool, width: int = 100, colour: bool = False) -> str:
    """A text of sections alone; a simulated figure in it makes its first and last line say SIMULATED."""
    page = page_for(width, colour)
    lines = [text for one in sections for text in section_lines(one, page)]
    around = page.simulated(simulated)
    return "\n".join([*around, *lines, "", *around] if simulated else lines[1:]) + "\n"


def section_lines(section: Section, page: Page) -> list[str]:
    """The section with its heading."""
    lines = page.heading(section.block, section.about)
    before: type[Item] = Heading
    for kind, group in groupby(section.items, type):
        several = list(group)
        maps = [one for one in several if isinstance(one, Map)]
        for drawn in [_maps(maps, page)] if maps else [_item(item, section.block, page) for item in several]:
            parted = (before is not Heading and kind in (Table, Map)) or (before in (Table, Map) and kind is Line)
            parted = parted or (before is Judged and kind is not Judged)
            lines += ["", *drawn] if parted and drawn else drawn
            before = kind if drawn else before
    return lines


def _item(item: Item, block: str, page: Page) -> list[str]:
    if isinstance(item, Line):
        return line_of(item, page)
    if isinstance(item, Together):
        known = [one for one in item.parts if one.quantity.present]
        shown = [f"{one.name} {figure(one.quantity, one.unit, behind(one.unit), sign=one.sign)}" for one in known]
        return flow([f"  {item.name.ljust(NAME)} {' '.join(shown[:1])}".rstrip(), *shown[1:], item.note], page.width)
    if isinstance(item, Table):
        return _table(item, page)
    if isinstance(item, Heading):
        return page.heading(f"{block} {item.title}", item.about)
    if isinstance(item, Named):
        return named_lines(item.rows, page, "  ")
    if isinstance(item, Judged):
        head = page.prose(f"{item.verdict.upper()}   {item.title}", "")
        painted = [paint(one, STYLES.get(item.verdict, "bold"), page.colour) for one in head]
        return ["", *painted, *(text for one in item.because for text in _item(one, block, page))]
    assert isinstance(item, Words)
    if item.about == "method":
        return page.method(item.text)
    indent = "  " * (1 + item.level)
    return page.warning(item.text, indent) if item.about == "warning" else page.prose(item.text, indent)


def named_lines(rows: Sequence[tuple[str, str]], page: Page, indent: str = "") -> list[str]:
    """Names in a column and texts beside."""
    known = [(name, text) for name, text in rows if text]
    wide = max([NARROW, *(len(name) for name, _ in known)])
    hanging = indent + " " * (wide + 1)
    return [one for name, text in known for one in wrapped(f"{name.ljust(wide)} {text}", page.width, indent, hanging)]


def line_of(item: Line, page: Page) -> list[str]:
    """One figure, what it rests on, and its words."""
    shown = figure(item.quantity, item.unit, behind(item.unit), sign=item.sign)
    name = "  " * item.level + item.name
    return line(name, shown, item.quantity, item.unit, width=page.width, also=item.also, note=item.note)


class _Printed(NamedTuple):
    """One printed column: of the figures, or of their uncertainty beside them.

    ``alone``  the cells with the digits that they have where no uncertainty stands beside or below
    ``soft``   a cell that is too wide goes on in the next line
    """

    column: Column
    cells: tuple[str, ...]
    alone: tuple[str, ...]
    rank: int
    left: bool = False
    soft: bool = False
    reach: bool = False

    @property
    def head(self) -> tuple[str, ...]:
        """The lines over it."""
        unit = unit_text(self.column.unit or "")
        return ("\u00b1",) if self.reach else (*self.column.head.split("\n"), *((unit,) if unit else ()))

    @property
    def least(self) -> int:
        """So wide at least."""
        texts = (*self.head, *self.cells)
        whole = max(map(len, texts))
        words = [len(word) for text in texts for word in text.split()]
        if self.soft and not self.left:
            return min(whole, MIN_AMOUNT)
        return min(whole, max(MIN_WORDS, *words)) if self.soft and words else whole


def _table(table: Table, page: Page) -> list[str]:
    """The rows in as many columns as there is room for."""
    rows = table.rows[: table.most]
    if not rows:
        return []
    cells = zip(table.columns, zip(*rows, strict=True), strict=True)
    every = [one for column, several in cells for one in _printed(column, several)]
    kept = every = [one for number, one in enumerate(every) if number == 0 or set(one.cells) - {"", "-"}]
    for rank in sorted({one.rank for one in every if one.rank}, reverse=True):
        if sum(one.least + 2 for one in kept) <= page.width:
            break
        kept = [one for one in kept if one.rank != rank]
    beside = [one.column for one in kept if one.reach]
    few = len(rows) <= FEW  # then the uncertainties stand below at least
    lines = _drawn([one if few or one.column in beside else one._replace(cells=one.alone) for one in kept], page.width)
    if few:
        figures = [one.column for one in kept]
        gone = [one for one in every if one.reach and one.column in figures and one.column not in beside]
        lines += _left_out(every, gone, page)
    for note in notes_below([one.column for one in kept if not one.reach]):
        lines += page.prose(note)
    if len(rows) < len(table.rows):
        more = len(table.rows) - len(rows)
        said = f"and {more} more" if table.order == "first" else f"the {table.order} {len(rows)} of {len(table.rows)}"
        lines += page.prose(f"{said}; the data have them all")
    shown = [one.column for one in kept]
    rest = [one.column for one in every if one.column not in shown and not one.reach]
    if table.goes_on and rest and any(not column.own for column in shown):
        further = [at for at, column in enumerate(table.columns) if column.own or column in rest]
        columns = tuple(table.columns[at] for at in further)
        cut = tuple(tuple(row[at] for at in further) for row in table.rows)
        lines += ["", *_table(table._replace(columns=columns, rows=cut), page)]
    return lines


def _printed(column: Column, cells: Sequence[Value]) -> list[_Printed]:
    """A column, and that of its uncertainty."""
    if any(isinstance(one, Amount) for one in cells):
        texts = tuple(_text(one, column, bare) for one in cells)
        return [_Printed(column, texts, texts, column.rank, soft=True)]
    words = any(isinstance(one, str) and one and not re.match(r"[-+<>]?[\d.]", one) for one in cells)
    place = common_place(cells, column.unit or "", sign=column.sign) if column.alike else None
    alone = tuple(_text(one, column, partial(bare, place=place)) for one in cells)
    if not column.uncertainty or column.unit is None:
        return [_Printed(column, alone, alone, column.rank, left=words, soft=words)]
    beside = tuple(_text(one, column, beside_reach) for one in cells)
    reaches = tuple(reach(one, column.unit) if isinstance(one, Quantity) else "" for one in cells)
    rank = column.rank + OF_UNCERTAINTY
    return [_Printed(column, beside, alone, column.rank), _Printed(column, reaches, reaches, rank, reach=True)]


def _text(cell: Value, column: Column, of: Callable[..., str]) -> str:
    """A cell without its unit, unless it has one of its own."""
    if isinstance(cell, Amount):
        unit = behind(cell.unit if cell.said is None else cell.said)
        return figure(cell.quantity, cell.unit, unit, sign=cell.sign) if cell.quantity.present else "–"
    if isinstance(cell, Quantity):
        return of(cell, column.unit or "", sign=column.sign)
    if isinstance(cell, float):
        return number(cell, column.unit, sign=column.sign) if column.unit else f"{cell:g}"
    return "" if cell is None else str(cell)


def _drawn(shown: Sequence[_Printed], width: int) -> list[str]:
    high = max(len(one.head) for one in shown)
    heads = [("",) * (high - len(one.head)) + one.head for one in shown]
    body = [*zip(*heads, strict=True), *zip(*(one.cells for one in shown), strict=True)]
    left = [at for at, one in enumerate(shown) if one.left]
    soft = sorted((at for at, one in enumerate(shown) if one.soft), key=lambda at: -max(map(len, shown[at].cells)))
    narrower = [(at, shown[at].least) for at in soft]
    if set(soft) - set(left):  # figures are narrowed last
        ease = [(at, max(AT_EASE, shown[at].least)) for at in soft]
        narrower = [(at, shown[at].least) for at in left if at] + ease + narrower
    return [f"  {row}" for row in columns_within(body, width - 2, narrower, left=left)]


def _left_out(every: Sequence[_Printed], gone: Sequence[_Printed], page: Page) -> list[str]:
    """Uncertainties that had no room, row by row."""
    lines = []
    points = [one for one in every if one.column.own and not one.column.uncertainty]  # each setting with its control
    settings = zip(*([f"{one.column.head}={cell}" for cell in one.cells] for one in points), strict=True)
    for at, name in enumerate((map(" ".join, settings) if points else every[0].cells) if gone else ()):
        known = [(unbroken(one.column.head), one.cells[at]) for one in gone if one.cells[at]]
        said = [f"{head} {text if ' to ' in text else PLUS_MINUS + text}" for head, text in known]
        lines += page.prose(f"{name}, 95 % interval: {', '.join(said)}") if said else []
    return lines


def _maps(maps: Sequence[Map], page: Page) -> list[str]:
    """Maps that follow each other stand side by side."""
    return draw(
        [MapText(_title(one), map_texts(one.cells, one.unit, sign=one.sign), one.marked) for one in maps], page.width
    )


def _title(one: Map) -> str:
    unit = unit_text(one.unit)
    return f"{one.title}, {unit}" if unit else one.title
