"""From the library to the page of ranks: which figures get a column, and each sample's row."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from benchd import __version__
from benchd.analysis.catalogue import short_names
from benchd.errors import InputError
from benchd.library.conditions import interval
from benchd.library.entry import Figure
from benchd.library.library_text import ListColumn, day, figure_text, heading, notice, spectral_remark, unit_words
from benchd.library.ranking import Parts, by_conditions, newest, rank
from benchd.library.store import IndexedName, Store, StoredSample
from benchd.report.site.page import SiteCell, SiteFigure, SitePage, SiteRow, render
from benchd.report.units import printed
from benchd.report.whole_file import whole_file
from benchd.report.words import printable

BETTER = {"more": "highest", "less": "lowest", "nearer": "neither"}
MAX_SIGNS = 60
"""Of a condition over a column."""
FIRST_ORDER = ("contrast", "white")
"""The page opens in the order of the first of these that is there."""


def publish(store: Store, samples: Sequence[StoredSample], file: Path, title: str) -> Path:
    """Write the page of ``samples``, whole or not at all. Returns the file.

    Raises `InputError` when there is nothing to show, or when it can't be written.
    """
    if not samples:
        raise InputError("no log is left for the page; take --where away, or add logs to the library")
    page = render(site_page(store, samples, title))
    try:
        with whole_file(file) as aside:
            aside.write_text(page, encoding="utf-8")
    except OSError as error:
        raise InputError(f"{file} can't be written ({error.strerror}); choose another place") from None
    return file


def site_page(store: Store, samples: Sequence[StoredSample], title: str) -> SitePage:
    """The page as data, in the order of its first figure."""
    columns: dict[str, ListColumn] = {}
    figures: list[SiteFigure] = []
    parts: dict[str, dict[int, Parts]] = {}
    for name, _, _, _, kind, better, short in _with_short_names(store):
        unit, found = store.figure(name)
        apart = by_conditions(samples, found)
        of_figure: dict[int, Parts] = dict(store.parts(name)) if apart else {}
        labels = distinct(list(apart))
        for number, (under, having) in enumerate(apart.items(), 1):
            key = short if number == 1 else f"{short}-{number}"
            columns[key] = ListColumn(name, unit, kind, {sample.id: found[sample.id] for sample in having})
            head = printed(heading(name, "")) + (f" ({labels[number - 1]})" if len(apart) > 1 else "")
            figures.append(SiteFigure(key, head, printed(unit_words(unit, kind)), BETTER[better], under))
            parts[key] = of_figure
    names = list(columns)
    order = next((name for name in FIRST_ORDER if name in names), names[0] if names else "")
    ranks: dict[int, str] = {}
    sequence = list(samples)
    if order:
        first = columns[order]
        highest = figures[names.index(order)].better != "lowest"
        ranking = rank(samples, first.figures, highest_first=highest, parts=parts[order])
        ranks = {line.sample.id: line.place for line in ranking}
        ranked = {line.sample.id: place for place, line in enumerate(ranking)}
        sequence.sort(key=lambda sample: ranked.get(sample.id, len(ranked)))
    latest = {sample.id for sample in newest(samples)}
    rows = tuple(
        SiteRow(
            rank=ranks.get(sample.id, ""),
            sample=printable(sample.facts.name),
            model=printable(sample.facts.model),
            cells=tuple(
                _cell(column, column.figures.get(sample.id), parts[short].get(sample.id, {}))
                for short, column in columns.items()
            ),
            day=day(sample),
            plan=printable(sample.facts.plan),
            note=printable(sample.facts.note),
            notice=notice(sample, *(column.figures.get(sample.id) for column in columns.values())),
            log=sample.facts.sha256[:12],
            simulated=sample.facts.simulated,
            latest=sample.id in latest,
        )
        for sample in sequence
    )
    return SitePage(title, tuple(figures), rows, order, __version__, spectral_remark(columns.values(), samples))


def _with_short_names(store: Store) -> list[IndexedName]:
    """The figures that get columns, in the order of a summary; those that no measurement here declares last."""
    order = {short: place for place, short in enumerate(short_names())}
    named = [one for one in store.names() if one.short]
    return sorted(named, key=lambda one: (order.get(one.short, len(order)), one.short))


def distinct(conditions: Sequence[str]) -> list[str]:
    """A few words for each of several conditions: what they do not share, without its details; else numbers."""
    pieces = [under.split("; ") for under in conditions]
    labels = [
        ", ".join(one.partition(":")[0] for one in own if any(one not in other for other in pieces)) or "no condition"
        for own in pieces
    ]
    short = len(set(labels)) == len(labels) and all(len(label) <= MAX_SIGNS for label in labels)
    return labels if short else [str(number) for number in range(1, len(labels) + 1)]


def _cell(column: ListColumn, figure: Figure | None, parts: Parts) -> SiteCell | None:
    if figure is None or figure.value is None:
        return None
    low, high = interval(figure)
    text = figure_text(column.name, column.unit, column.kind, figure)
    shares = tuple((source, amount, dof) for source, (amount, dof) in parts.items()) if figure.bound is None else ()
    return SiteCell(text, figure.value, low, high, figure.bound, figure.why, shares)
