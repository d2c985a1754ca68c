"""Draws a section on a page: its plots, its figures and tables with their uncertainty, its sentences."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.digits import number
from benchd.report.figure_text import bare, common_place, evidence
from benchd.report.model import (
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
    Verdict,
    Words,
    notes_below,
)
from benchd.report.page.parts import (
    Defined,
    HtmlCell,
    definitions,
    esc,
    number_cell,
    plots_html,
    quantity_cells,
    section,
    table,
    tag,
    text_cell,
    tied,
    unit_cell,
    warning,
    words,
)
from benchd.report.plots.plot import Plot
from benchd.report.units import printed, sentence, titled, unit_text
from benchd.report.words import plain, unbroken

FOLDED = ("method", "definition")
"""Words that stand folded at the end of their section."""
MAX_ROWS = 2000
"""A longer table would keep a browser busy; the data have it."""


def section_html(
    shown: Section,
    plots: Sequence[Plot],
    *,
    anchor: str,
    title: str,
    simulated: bool,
    first: str = "",
    level: int = 2,
    known: Defined | None = None,
) -> str:
    """The section under its ``title``, each plot where it belongs; ``first``: HTML before all of it.

    Its definitions and methods are folded at its end, once of those that are ``known``. Empty where there is neither an
    item nor a plot.
    """
    inner = first
    said = [sentence(item.text) for item in shown.items if isinstance(item, Words) and item.about in FOLDED]
    said += [
        titled(note) for item in shown.items if isinstance(item, Table) for note in _notes(item) if not _sign(note)
    ]
    if shown.about and (shown.items or plots):
        inner += tag("p", esc(titled(shown.about)), class_="method")
    parts: list[tuple[Heading | None, list[Item]]] = [(None, [])]
    for item in shown.items:
        if isinstance(item, Heading):
            parts.append((item, []))
        else:
            parts[-1][1].append(item)
    for heading, items in parts:
        under = heading.title if heading else ""
        body = plots_html(one for one in plots if one.under == under) + _items(
            items, ", ".join(filter(None, (title, under)))
        )
        if heading is None:
            inner += body
            continue
        name = f"{heading.title}, {heading.about}" if heading.about else heading.title
        inner += section(f"{anchor}-{plain(heading.title)}", printed(name), body, simulated=simulated, level=level + 1)
    inner += definitions([printed(text) for text in said], title, anchor, {} if known is None else known)
    return section(anchor, title, inner, simulated=simulated, level=level)


def _items(items: Sequence[Item], name: str) -> str:
    made, caption = "", f"Figures of {name}"
    for kind, group in groupby(items, type):
        several = list(group)
        if kind is Line:
            made += _lines([one for one in several if isinstance(one, Line)], caption)
            caption = f"Further figures of {name}"
        elif kind is Judged:
            made += tag("ol", "".join(_judged(one) for one in several if isinstance(one, Judged)), class_="judged")
        elif kind is not Map:  # a plot and a table of every place show it
            made += "".join(_item(one) for one in several)
    return made


def _item(item: Item) -> str:
    if isinstance(item, Table):
        return _table(item)
    if isinstance(item, Together):
        return _together(item)
    if isinstance(item, Named):
        return words([(name, _squared(text)) for name, text in item.rows if text])
    assert isinstance(item, Words)
    if item.about in FOLDED:
        return ""
    text = _squared(sentence(item.text))
    return warning(text) if item.about == "warning" else tag("p", tied(esc(text)), class_="method")


def _squared(text: str) -> str:
    """A sentence, in which only what can be nothing else gets the signs of print."""
    return text.replace("cd/m2", "cd/m²").replace("dE00", "ΔE₀₀").replace("dE ITP", "ΔE ITP")


def _judged(item: Judged) -> str:
    texts = (one.text if one.about == "quote" else _squared(one.text) for one in item.because)
    said = (
        tag("p", tied(esc(text)), class_="small" if one.level else "said")
        for one, text in zip(item.because, texts, strict=True)
    )
    inner = tag("p", tag("strong", esc(_squared(item.title)))) + "".join(said)
    return tag("li", _verdict(item.verdict, "p") + tag("div", inner))


def _verdict(word: Verdict, element: str) -> str:
    return tag(element, esc(word), class_=f"verdict {plain(word)}")


def _lines(lines: Sequence[Line], caption: str) -> str:
    """Lines of figures that follow each other are a table; those that are absent say why."""
    rows = []
    for one in lines:
        note = one.quantity.why if one.note is None else one.note
        said = "; ".join(filter(None, (*(one.also if one.quantity.present else ()), note)))
        rows.append(
            (
                text_cell(titled(one.name) if not one.level else f"\u2003{printed(one.name)}"),
                *quantity_cells(one.quantity, one.unit, sign=one.sign),
                unit_cell(printed(unit_text(one.unit)) if one.quantity.present else ""),
                text_cell(evidence(one.quantity, one.unit)),
                text_cell(printed(said)),
            )
        )
    head = ("Figure", "Value", "U (95 %)", "Unit", "From", "What it is")
    shown, cells = without_empty(head, rows)
    return table(shown, cells, caption=caption, folded=False, look="figures")


def _together(item: Together) -> str:
    row: list[HtmlCell] = [text_cell(titled(item.name))]
    head = ["Figures"]
    for one in (one for one in item.parts if one.quantity.present):
        unit = printed(unit_text(one.unit))
        head += [f"{printed(one.name)}, {unit}" if unit else printed(one.name), "± U"]
        row += quantity_cells(one.quantity, one.unit, sign=one.sign)
    shown, cells = without_empty(head, [row])
    made = table(shown, cells, caption=titled(item.name), folded=False) if len(row) > 1 else ""
    return made + (warning(f"{titled(item.name)}: {item.note}") if item.note else "")


def _table(item: Table) -> str:
    head: list[str] = []
    columns: list[list[HtmlCell]] = []
    several = list(zip(*item.rows[:MAX_ROWS], strict=True))
    units = [*map(_units, several), []]
    for at, (column, cells) in enumerate(zip(item.columns, several, strict=bool(item.rows))):
        head += _head(column)
        place = common_place(cells, column.unit or "", sign=column.sign) if column.alike else None
        columns += [list(one) for one in zip(*(_cells(cell, column, place) for cell in cells), strict=True)]
        if units[at]:  # of two columns that are alike the first shows its own on a phone alone
            head.append("Unit")
            columns.append([unit_cell(one, again=units[at] == units[at + 1]) for one in units[at]])
    rows = [list(row) for row in zip(*columns, strict=True)]
    shown, kept = without_empty(head, rows)
    made = table(shown, kept, caption=titled(item.caption), folded=item.folded, groups=_groups(item.topics))
    if len(item.rows) > MAX_ROWS:
        made += tag("p", f"And {len(item.rows) - MAX_ROWS} more; the data have them all.", class_="method")
    return made + "".join(tag("p", tied(esc(note)), class_="method") for note in _notes(item) if _sign(note))


def _notes(item: Table) -> list[str]:
    return notes_below([column for column in item.columns if _has(column, item)])


def _sign(note: str) -> bool:
    """Does it explain a sign that stands in the table? Then it stays below."""
    return note.startswith("*")


def _groups(topics: Sequence[str]) -> list[tuple[str, int]]:
    return [(titled(topic), len(list(rows))) for topic, rows in groupby(topics)]


def _units(cells: Sequence[Value]) -> list[str]:
    """Of a column whose cells have units of their own; empty of another."""
    found = [unit_text(one.unit if one.said is None else one.said) if isinstance(one, Amount) else "" for one in cells]
    return [*map(printed, found)] if any(isinstance(one, Amount) for one in cells) else []


def _has(column: Column, item: Table) -> bool:
    """Has any row something in this column?"""
    at = item.columns.index(column)
    return any(
        one.present if isinstance(one, Quantity) else one not in (None, "") for one in (row[at] for row in item.rows)
    )


def _head(column: Column) -> list[str]:
    head, unit = unbroken(column.head), unit_text(column.unit or "")
    head = column.head if column.own else titled(f"{head}, {unit}" if unit else head)
    return [head, "± U"] if column.uncertainty else [head]


def _cells(cell: Value, column: Column, place: int | None) -> tuple[HtmlCell, ...]:
    """The cell, and that of its uncertainty where the column has one. ``place``: of the last digit in all its rows."""
    if isinstance(cell, Quantity):
        if place is not None:
            shown = bare(cell, column.unit or "", sign=column.sign, place=place)
            return (number_cell(shown if cell.present else "–"),)
        both = quantity_cells(cell, column.unit or "", sign=column.sign)
        return both if column.uncertainty else both[:1]
    if isinstance(cell, Amount):
        return quantity_cells(cell.quantity, cell.unit, sign=cell.sign)
    beside = (HtmlCell("", role="u"),) if column.uncertainty else ()
    if isinstance(cell, Verdict):
        return HtmlCell(_verdict(cell, "span")), *beside
    if cell is None or isinstance(cell, str):
        return text_cell(printed(cell or "")), *beside
    if isinstance(cell, int):
        return number_cell(str(cell)), *beside
    return number_cell(number(cell, column.unit, sign=column.sign) if column.unit else f"{cell:g}"), *beside


def without_empty(head: Sequence[str], rows: Sequence[Sequence[HtmlCell]]) -> tuple[list[str], list[list[HtmlCell]]]:
    """Without columns that no row has anything in."""
    kept = [i for i in range(len(head)) if i == 0 or any(row[i].html not in ("", "–") for row in rows)]
    return [head[i] for i in kept], [[row[i] for i in kept] for row in rows]
