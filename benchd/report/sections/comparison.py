"""A comparison: figure by figure, what differs and by how much, then the question of the panel."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from benchd.analysis.catalogue import AT
from benchd.analysis.figure_conditions import conditions_text
from benchd.analysis.log.room_note import room_words
from benchd.analysis.verdicts.comparison import Comparison, ComparisonRow, Difference, SampleFigure
from benchd.analysis.verdicts.equivalence import METHOD, Margin
from benchd.analysis.verdicts.panel import PanelQuestion
from benchd.measurements.declared_figure import plain_name
from benchd.report.model import Amount, Column, Heading, Item, Judged, Named, Section, Table, Value, Verdict, Words
from benchd.report.units import behind
from benchd.report.words import count, grouped

PERCENT_OF = "a margin in % is of the mean of both figures, so that their order changes no verdict"
NOT_COMPARED = "not compared"
SAY = {
    "different": "different",
    "equivalent": "equivalent",
    "different and equivalent": "equivalent, difference seen",
    "inconclusive": "inconclusive",
    NOT_COMPARED: "not compared",
}
"""The answers in words for an operator; where both are shown, the margin's answer first: it decides."""
IN_WORDS = {
    "differ": ("different",),
    "equivalent": ("equivalent", "different and equivalent"),
    "inconclusive": ("inconclusive",),
    "not compared": (NOT_COMPARED,),
}
"""What differs beyond the margin, what does not, what is open, what was not compared: the verdict in a sentence."""
FEW_LACK = 3
"""Where so many times more points have a figure than lack it, those are named that lack it."""
Rows = Sequence[tuple[ComparisonRow, Difference]]


def margin_text(margin: Margin, kind: str) -> str:
    """``2 %``, ``100 K`` or ``5:1``."""
    if margin.percent:
        return f"{margin.size:g} %"
    size = f"{margin.size:g}"
    return f"{size} {'point' if size == '1' else 'points'}" if kind == "%" else f"{size}{behind(kind)}"


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


def difference_cell(one: Difference, kind: str) -> Value:
    """``+12.3 ± 0.8 %`` where a ratio makes sense, else in the figure's unit."""
    if one.relative is not None and is_relative(one):
        return Amount(one.relative, "%", sign=True)
    if one.difference is None:
        return "–"
    return Amount(one.difference, kind, sign=True, said={"%": "points"}.get(kind))


def comparison_sections(comparison: Comparison, panel: Sequence[tuple[str, PanelQuestion]]) -> list[Section]:
    """All but plots and provenance. ``panel``: the evidence for each sample against the first, where it was asked for.

    The name of a section is its anchor on a page.
    """
    first, *others = comparison.labels
    unlike = [f"not the same: {name}: {' · '.join(texts)}" for name, texts in comparison.conditions.items()]
    conditions = (Words(meter_words(comparison)), *(Words(text, "warning") for text in unlike))
    about = f"{' · '.join(comparison.labels)}; differences are from {first}, in % of it or in the unit shown"
    return [
        Section("comparison", "Conditions", about, conditions),
        *(_against(comparison, index, f"{label} against {first}") for index, label in enumerate(others, 1)),
        *_spreads(comparison),
        *(_panel(question, f"same panel in {label} as in {first}?") for label, question in panel),
    ]


def _against(comparison: Comparison, index: int, title: str) -> Section:
    rows = [(row, one) for row in comparison.rows if (one := row.differences[index])]
    notes: dict[str, list[str]] = {}
    for row, one in rows:
        why = [one.why] if one.answer in ("inconclusive", NOT_COMPARED) and one.why else []
        for said in (*why, *room_notes(comparison, row, index)):
            notes.setdefault(said, []).append(row.headline.name)
    every = points_of(rows)
    compared = count(sum(one.answer != NOT_COMPARED for _, one in rows), "figure") + " compared"
    left, of = len(_names(rows, (NOT_COMPARED,))), " of all samples" if len(comparison.labels) > 2 else ""
    together = (
        f"{count(comparison.tested, 'difference')}{of} judged together after Holm (1979, from memory): at most 5 % "
        f"that any of them is called different by chance{_untested(comparison)}. {METHOD[0].upper()}{METHOD[1:]}."
    )
    items: tuple[Item, ...] = (
        Named(tuple((answer, by_points(_names(rows, of), every)) for answer, of in IN_WORDS.items())),
        *_tables(comparison, rows, index),
        *(Words(f"{by_points(names, every)}: {why}") for why, names in notes.items()),
        *(
            Words(f"{by_points(names, every)}: holds for {under}", "definition")
            for under, names in by_conditions(comparison.rows, index).items()
        ),
        Words(f"margins: {_margins(comparison)}."),
        Words(together, "method"),
    )
    return Section(title, title, f"{compared}, {left} not compared" if left else compared, items)


def _untested(comparison: Comparison) -> str:
    """How many of the compared figures have no test, and why."""
    several = [one for row in comparison.rows for one in row.differences if one and one.answer != NOT_COMPARED]
    without = sum(one.verdict is None for one in several)
    return f"; {without} more without a test: a bound, or an uncertainty that is not known" if without else ""


def points_of(rows: Rows) -> list[str]:
    """The points of a sweep that figures are compared at, in order; one that is "" for logs without a sweep."""
    return list(dict.fromkeys(row.headline.name.partition(AT)[2] for row, _ in rows))


def by_points(names: Iterable[str], every: Sequence[str]) -> str:
    """All of the ``names`` of figures in few words: those that go with the same points of a sweep together.

    ``at every point: white luminance, contrast; at brightness=20, 50: white CCT``; ``every``: all points.
    """
    parts = (name.partition(AT) for name in names)
    found = grouped((plain_name(base), point) for base, _, point in parts)
    groups = grouped((tuple(points), base) for base, points in found.items())
    several = sorted(groups.items(), key=lambda one: -len(one[0]))
    return "; ".join(f"{_where(points, every)}{', '.join(bases)}" for points, bases in several)


def _where(points: Sequence[str], every: Sequence[str]) -> str:
    if not any(points):
        return ""
    lack = [point for point in every if point not in points]
    if not lack and len(every) > 1:
        return "at every point: "
    if len(lack) * FEW_LACK <= len(points) and lack:
        return f"at every point but {_listed(lack)}: "
    return f"at {_listed(points)}: "


def _listed(points: Sequence[str]) -> str:
    """``brightness=20, 50``, or the points in full where several settings make them."""
    control = points[0].partition("=")[0]
    one_control = all(point.count("=") == 1 and point.startswith(f"{control}=") for point in points)
    rest = [point.partition("=")[2] if one_control else point for point in points[1:]]
    return ", ".join([points[0], *rest])


def _names(rows: Rows, answers: Sequence[str]) -> list[str]:
    return [row.headline.name for row, one in rows if one.answer in answers]


def _tables(comparison: Comparison, rows: Rows, index: int) -> Iterator[Item]:
    """One table, or of sweeps one a point, whose heading names the point in place of each row."""
    if not any(points := points_of(rows)):
        yield _table(comparison, rows, index)
        return
    for point in points:
        yield Heading(f"at {point}")
        yield _table(comparison, [one for one in rows if one[0].headline.name.partition(AT)[2] == point], index)
    yield Heading("at all points")


def _table(comparison: Comparison, rows: Rows, index: int) -> Table:
    # The verdict comes first: where a page is narrower than the table it is not the part that is out of sight.
    columns = (
        *(Column("figure"), Column("verdict")),
        *(Column(comparison.labels[at], uncertainty=True, own=True) for at in (0, index)),
        *(Column("difference", uncertainty=True), Column("margin")),
    )
    cells: list[tuple[Value, ...]] = []
    for row, one in rows:
        kind = row.headline.unit
        sides = (row.sides[at].quantity for at in (0, index))
        shown = ("–" if side is None else Amount(side, kind) for side in sides)
        margin = margin_text(row.margin, kind) + (" *" if row.margin_stated else "")
        name = plain_name(row.headline.name.partition(AT)[0])
        cells.append((name, Verdict(SAY[one.answer]), *shown, difference_cell(one, kind), margin))
    topics = tuple(row.headline.topic for row, _ in rows)
    return Table("differences", columns, tuple(cells), folded=False, topics=topics)


def by_conditions(rows: Sequence[ComparisonRow], index: int) -> dict[str, list[str]]:
    """What the figures that were compared hold for -> their names; those that need no condition are left out."""
    return grouped(
        (conditions_text(under), row.headline.name)
        for row in rows
        if row.differences[index] and (under := row.sides[0].conditions) and under == row.sides[index].conditions
    )


def room_notes(comparison: Comparison, row: ComparisonRow, index: int) -> list[str]:
    """What the light of the room does to the two figures of a difference, sample by sample."""
    sides = ((comparison.labels[at], row.sides[at].quantity) for at in (0, index))
    said = [(label, room_words(quantity.why)) for label, quantity in sides if quantity]
    return [f"{label}: {words}" for label, words in said if words]


def _spreads(comparison: Comparison) -> list[Section]:
    """How far the logs of each model lie apart, where there are several."""
    if not any(side.spread is not None for row in comparison.rows for side in row.sides):
        return []
    of_each = ((Column(label, uncertainty=True, own=True), Column("logs")) for label in comparison.labels)
    rows = tuple(
        (plain_name(row.headline.name), *(cell for side in row.sides for cell in _spread(side, row.headline.unit)))
        for row in comparison.rows
    )
    table = Table("spread between the logs of each model", (Column("figure"), *chain(*of_each)), rows)
    title = "spread between the logs of a model"
    return [Section(title, title, "standard deviation", (table,))]


def _spread(side: SampleFigure, kind: str) -> tuple[Value, Value]:
    if side.spread is None or side.quantity is None:
        return "", ""
    return Amount(side.quantity._replace(value=side.spread, sources=None, s=None), kind), side.n


def _margins(comparison: Comparison) -> str:
    stated = [plain_name(row.headline.name) for row in comparison.rows if row.margin_stated]
    if not stated:
        return f"common practice, no standard behind them; state your own with --margin; {PERCENT_OF}"
    others = "the others are common practice, no standard behind them"
    return f"stated by you (*) for {', '.join(stated)}; {others}; {PERCENT_OF}"


def _panel(question: PanelQuestion, title: str) -> Section:
    """The answer, and the evidence, piece by piece."""
    several = [
        Judged(
            Verdict(one.finding),
            f"{one.feature} (weight: {one.weight})",
            (Words(one.words), Words(one.because, level=1)),
        )
        for one in question.evidence
    ]
    said = f"note: {question.spectral}." if question.spectral else ""
    lacking = f"what would tell more: {'; '.join(question.lacking)}." if question.lacking else ""
    what = "Same panel means the same component, not the same unit. Margins and weights are common practice."
    items: tuple[Item, ...] = (Words(question.answer), Words(said), *several, Words(lacking), Words(what))
    return Section(title, title, "the evidence", tuple(one for one in items if one != Words("")))
