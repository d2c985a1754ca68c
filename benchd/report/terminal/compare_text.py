"""A comparison as text: figure by figure, what differs and by how much, then the question of the panel."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.figure_conditions import conditions_text
from benchd.analysis.log.room_note import room_words
from benchd.analysis.verdicts.comparison import Comparison, ComparisonRow, Difference
from benchd.analysis.verdicts.equivalence import METHOD, Margin
from benchd.analysis.verdicts.panel import PanelQuestion
from benchd.report.digits import number
from benchd.report.shown import UNIT_TEXT, plain_name, whole
from benchd.report.terminal.text_page import Page, page_for
from benchd.report.words import columns_within, count

PERCENT_OF = "a margin in % is of the mean of both figures, so that their order changes no verdict"
SAY = {
    "different": "different",
    "equivalent": "equivalent",
    "different and equivalent": "differ within the margin",
    "inconclusive": "inconclusive",
}
"""The answers in words for an operator."""


def margin_text(margin: Margin, kind: str) -> str:
    """``2 %`` or ``100 K``."""
    if margin.percent:
        return f"{margin.size:g} %"
    unit = {"%": "points", "dE00": "ΔE", "u'v'": "", "xy": ""}.get(kind, UNIT_TEXT.get(kind, "") if kind != "1" else "")
    return f"{margin.size:g} {unit[:-1] if unit == 'points' and margin.size == 1 else unit}".strip()


def meter_words(comparison: Comparison) -> str:
    """What the meter's own errors do to the differences."""
    if not comparison.same_meter:
        several = "several meters, or not one for certain: their own errors are part of every difference"
        return f"{several}; {comparison.spectral}" if comparison.spectral else several
    if comparison.spectral:
        return f"one meter: what its linearity and zero do to all cancels, but {comparison.spectral}"
    return "one meter: what its scale and spectral errors do to all cancels in the differences"


def is_relative(one: Difference) -> bool:
    """Is it told in per cent? Where a ratio makes sense; not where only the difference itself has an interval."""
    if one.relative is None:
        return False
    return one.relative.stated is not None or one.difference is None or one.difference.stated is None


def difference_text(one: Difference, kind: str) -> str:
    """``+12.3 ± 0.8 %`` where a ratio makes sense, else in the figure's unit."""
    if one.relative is not None and is_relative(one):
        return whole(one.relative, "%", sign=True)
    if one.difference is None:
        return "–"
    text = whole(one.difference, kind, sign=True)
    return text.replace(" %", " points") if kind == "%" else text


def render_comparison(
    comparison: Comparison, panel: Sequence[tuple[str, PanelQuestion]], *, width: int = 100, colour: bool = False
) -> str:
    """The whole text; a simulated figure in it makes its first and last line say SIMULATED.

    ``panel``: the evidence for each sample against the first, where it was asked for.
    """
    page = page_for(width, colour)
    lines = page.simulated(comparison.simulated)
    lines += page.prose(
        " · ".join(comparison.labels)
        + f"; differences are from {comparison.labels[0]}, in % of it or in the unit shown",
        "",
    )
    lines += page.prose(meter_words(comparison), "")
    for name, texts in comparison.conditions.items():
        lines += page.warning(f"not the same: {name}: {' · '.join(texts)}", "")
    for index in range(1, len(comparison.labels)):
        rows = [row for row in comparison.rows if row.differences[index]]
        lines += page.heading(f"{comparison.labels[index]} against {comparison.labels[0]}", count(len(rows), "figure"))
        lines += _table(comparison, rows, index, page)
    lines += _spreads(comparison, page)
    lines += ["", *page.prose(f"Margins: {_margins(comparison)}.", "")]
    lines += page.prose(
        f"{count(comparison.tested, 'difference')} judged together after Holm (1979, from memory): at most 5 % that "
        f"any of them is called different by chance. {METHOD[0].upper()}{METHOD[1:]}.",
        "",
    )
    for label, question in panel:
        lines += panel_lines(question, f"same panel in {label} as in {comparison.labels[0]}?", page)
    lines += ["", *page.simulated(True)] if comparison.simulated else []
    return "\n".join(lines) + "\n"


def _table(comparison: Comparison, rows: Sequence[ComparisonRow], index: int, page: Page) -> list[str]:
    body = [("", comparison.labels[0], comparison.labels[index], "difference", "margin", "verdict")]
    notes: dict[str, list[str]] = {}
    for row in rows:
        one, kind = row.differences[index], row.headline.unit
        a, b = row.sides[0].quantity, row.sides[index].quantity
        if one is None:
            continue
        sides = ["–" if side is None else whole(side, kind) for side in (a, b)]
        shown = (sides[0], sides[1], difference_text(one, kind))
        body.append((plain_name(row.headline.name), *shown, margin_text(row.margin, kind), SAY[one.answer]))
        if one.answer == "inconclusive" and one.why:
            notes.setdefault(one.why, []).append(row.headline.name)
        for said in room_notes(comparison, row, index):
            notes.setdefault(said, []).append(row.headline.name)
    narrower = ((5, 13), (0, 24), (1, 17), (2, 17), (3, 18), (0, 16), (1, 16), (2, 16), (1, 12), (2, 12), (3, 12))
    lines = [f"  {text}" for text in columns_within(body, page.width - 2, narrower, left=(0, 5))]
    for why, names in notes.items():
        lines += page.prose(f"{', '.join(names)}: {why}")
    for under, names in by_conditions(rows, index).items():
        lines += page.prose(f"{', '.join(names)}: holds for {under}")
    return lines


def by_conditions(rows: Sequence[ComparisonRow], index: int) -> dict[str, list[str]]:
    """What the figures that were compared hold for -> their names; those that need no condition are left out."""
    found: dict[str, list[str]] = {}
    for row in rows:
        first, other = row.sides[0], row.sides[index]
        if row.differences[index] and first.conditions == other.conditions and first.conditions:
            found.setdefault(conditions_text(first.conditions), []).append(plain_name(row.headline.name))
    return found


def room_notes(comparison: Comparison, row: ComparisonRow, index: int) -> list[str]:
    """What the light of the room does to the two figures of a difference, sample by sample."""
    sides = ((comparison.labels[at], row.sides[at].quantity) for at in (0, index))
    said = [(label, room_words(quantity.why)) for label, quantity in sides if quantity]
    return [f"{label}: {words}" for label, words in said if words]


def _spreads(comparison: Comparison, page: Page) -> list[str]:
    """How far the logs of each model lie apart, where there are several."""
    if not any(side.spread is not None for row in comparison.rows for side in row.sides):
        return []
    body = [("", *comparison.labels)]
    for row in comparison.rows:
        shown = []
        for side in row.sides:
            known = side.spread is not None and side.quantity is not None
            shown.append(number(side.spread or 0.0, "s", side.spread) if known else "-")
        body.append((plain_name(row.headline.name), *shown))
    lines = page.heading("spread between the logs of a model", "standard deviation, in the figure's unit")
    narrower = ((0, 24), *((column, 12) for column in range(1, len(body[0]))))
    return lines + [f"  {text}" for text in columns_within(body, page.width - 2, narrower, left=(0,))]


def _margins(comparison: Comparison) -> str:
    stated = [row.headline.name for row in comparison.rows if row.margin_stated]
    if not stated:
        return f"common practice, no standard behind them; state your own with --margin; {PERCENT_OF}"
    others = "the others are common practice, no standard behind them"
    return f"stated by you for {', '.join(stated)}; {others}; {PERCENT_OF}"


def panel_lines(question: PanelQuestion, title: str, page: Page) -> list[str]:
    """The evidence, piece by piece, and what follows."""
    lines = page.heading(title, "the evidence")
    lines += page.prose(question.answer)
    lines += page.prose(f"Note: {question.spectral}.") if question.spectral else []
    for one in question.evidence:
        lines += page.prose(f"{one.finding.upper()} ({one.weight}): {one.feature}: {one.words}", "  ")
        lines += page.prose(one.because, "      ")
    if question.lacking:
        lines += page.prose(f"What would tell more: {'; '.join(question.lacking)}.")
    return lines + page.prose(
        "Same panel means the same component, not the same unit. Margins and weights are common practice."
    )
