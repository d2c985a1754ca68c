"""How a page of one log opens: what must not be missed, its figures, what stands out, how the run went."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchd.analysis.catalogue import of_points
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.results_log import Setting, Sweep
from benchd.analysis.uncertainty.quantity import Quantity, absent, maximum, minimum
from benchd.report.brief import BriefFigure, BriefLine
from benchd.report.data.document import point_text
from benchd.report.figure_text import figure
from benchd.report.page.parts import (
    OPEN_ROWS,
    HtmlCell,
    esc,
    number_cell,
    quantity_cells,
    table,
    tag,
    text_cell,
    tied,
    unit_cell,
    warning,
)
from benchd.report.summary import Summary
from benchd.report.units import behind, printed, sentence, titled, unit_text
from benchd.report.words import unbroken

MAX_ENDS, MAX_FIGURES = 8, 6
"""Figures of a long sweep whose both ends stand there, and of a short one at each point; the sweep's table has all."""


def opening(summary: Summary) -> str:
    """The HTML of it, without a heading."""
    made = "".join(warning(sentence(text)) for text in summary.warnings)
    if summary.sweep is None:
        made += _lines([line for block in summary.blocks for line in block.lines])
    elif len(summary.sweep.rows) > OPEN_ROWS:
        made += _ends(summary.sweep, summary.columns[:MAX_ENDS])
    else:
        made += _points(summary.sweep, summary.columns[:MAX_FIGURES])
    if summary.stands_out:
        items = "".join(tag("li", tied(esc(printed(sentence(text))))) for text in summary.stands_out)
        made += tag("p", tag("b", "Stands out")) + tag("ul", items, class_="stands-out")
    said = (*map(sentence, summary.notes), *summary.run)
    return made + "".join(tag("p", tied(esc(printed(text))), class_="method") for text in said)


def _lines(lines: Sequence[BriefLine]) -> str:
    """A row each; an absent figure says why."""
    rows = [
        (
            text_cell(titled(", ".join(filter(None, (line.name, line.figure.name))))),
            *quantity_cells(line.figure.quantity, line.figure.unit, sign=line.figure.sign),
            unit_cell(printed(unit_text(line.figure.unit)) if line.figure.quantity.present else ""),
            text_cell(printed(_beside(line))),
        )
        for line in lines
    ]
    head = ("Figure", "Value", "U (95 %)", "Unit", "Further")
    return table(head, rows, caption="The figures in short", folded=False, look="figures opening")


def _beside(line: BriefLine) -> str:
    """``at r5c1, u'v' 0.0006 at r3c5``, and what is to be known of the figure, such as why it is a bound."""
    if not line.figure.quantity.present:
        return f"absent: {line.figure.quantity.why}"
    also = (one if isinstance(one, str) else _shown(one) for one in line.also)
    return "; ".join(filter(None, (", ".join(filter(None, (line.figure.at, *also))), line.figure.quantity.why)))


def _shown(one: BriefFigure) -> str:
    if not one.quantity.present:
        return ""
    text = figure(one.quantity, one.unit, behind(one.unit), sign=one.sign).replace("-", "−")
    return " ".join(filter(None, (one.name, text, one.at)))


def _points(sweep: Sweep, names: Sequence[str]) -> str:
    """A row a point with the figures that speak for each block."""
    known = of_points(sweep.rows)
    figures = [known[name] for name in names if name in known]
    head = list(sweep.controls)
    for one in figures:
        unit = printed(unit_text(one.unit))
        name = unbroken(one.head) or one.name
        head += [titled(", ".join(filter(None, (name, unit)))), "± U"]
    rows = [
        (
            *map(_setting, row.settings.values()),
            *(cell for one in figures for cell in _cells(row.quantity(one.name), one)),
        )
        for row in sweep.rows
    ]
    return table(head, rows, caption="The points in short", folded=False)


def _setting(setting: Setting) -> HtmlCell:
    return text_cell(setting) if isinstance(setting, str) else number_cell(f"{setting:g}")


def _cells(quantity: Quantity | None, one: Figure) -> tuple[HtmlCell, HtmlCell]:
    return quantity_cells(quantity or absent(one.unit, "not measured"), one.unit, sign=one.unit == "Duv")


def _ends(sweep: Sweep, names: Sequence[str]) -> str:
    """The lowest and the highest of each figure over all points, and where."""
    known = of_points(sweep.rows)
    rows = [tuple(_row(sweep, known[name])) for name in names if name in known]
    head = ("Figure", "Lowest", "U (95 %)", "Unit", "at", "Highest", "U (95 %)", "Unit", "at")
    return table(head, rows, caption=f"Lowest and highest of {len(sweep.rows)} points", folded=False)


def _row(sweep: Sweep, one: Figure) -> Iterator[HtmlCell]:
    found = [(row, quantity) for row in sweep.rows if (quantity := row.quantity(one.name)) and quantity.present]
    several = [quantity for _, quantity in found]
    yield text_cell(titled(one.name))
    for end in (minimum, maximum):
        most = end(several, one.quantity.unit)
        yield from quantity_cells(most, one.unit, sign=one.unit == "Duv")
        yield unit_cell(printed(unit_text(one.unit)))
        at = (row for row, each in found if _same(each, most))
        yield text_cell(next((point_text(row.settings).replace(",", " ") for row in at), ""))


def _same(one: Quantity, other: Quantity) -> bool:
    return (one.value, one.bound) == (other.value, other.bound)
