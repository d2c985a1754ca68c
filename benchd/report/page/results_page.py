"""The report page: one HTML file of one log or several, that needs nothing else to be read, printed or kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from benchd.analysis.catalogue import point_words
from benchd.analysis.log.history import Event
from benchd.analysis.results import Results
from benchd.analysis.sweep_points import brightest
from benchd.report.data.log_reference import LogReference
from benchd.report.measurement import show_part, shown_blocks
from benchd.report.model import Named, Section, Words
from benchd.report.page.opening import opening
from benchd.report.page.parts import Defined, esc, folding, page, tag, warning
from benchd.report.page.section_html import section_html
from benchd.report.plots.chromaticity import Chromaticities, diagrams, merged
from benchd.report.plots.picture import Picture, pictures, with_pictures
from benchd.report.plots.plot import Ink, Plot, at_settings
from benchd.report.plots.sweep import drift_plot, sweep_plots
from benchd.report.sections.claims import ClaimsShown, claims_section
from benchd.report.sections.conditions import conditions
from benchd.report.sections.plot_conditions import Labelled, plot_conditions, whose
from benchd.report.sections.sweep import sweep_section
from benchd.report.sections.whole_log import absent_section, history_section, source_section, summary_section
from benchd.report.summary import head_of, summary_of
from benchd.report.words import capital, plain, point_of, printable

MAX_OVERLAID = len(Ink.series)
"""So many points of a sweep at most stand in one diagram."""

MAX_BLOCKS = 12
"""Of a sweep's blocks only these many of a kind have their plots; the table of the sweep has all."""


@dataclass(frozen=True, slots=True)
class Logged:
    """One log: its results, which file it is, and what happened in it."""

    results: Results
    log: LogReference
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class _Plots:
    """All plots of one log, by what they belong to."""

    sweep: list[Plot]
    colour: list[Plot]
    blocks: dict[str, list[Plot]]
    drift: Plot | None

    def all(self) -> list[Plot]:
        """In the order of the page."""
        of_blocks = [plot for several in self.blocks.values() for plot in several]
        return [*self.sweep, *self.colour, *of_blocks, *([self.drift] if self.drift else [])]


def report_plots(logs: Sequence[Logged | None]) -> list[Plot]:
    """Every plot of the page, for files of their own; their names are all different.

    None stands for a log that gives no results: the others keep their numbers.
    """
    numbered = [(one, _prefix(number, logs)) for number, one in enumerate(logs, 1)]
    return [plot for one, prefix in numbered if one for plot in _plots(one.results, prefix).all()]


def report_page(
    logs: Sequence[Logged], claims: ClaimsShown | None = None, drawn: Iterable[Picture] | None = None
) -> str:
    """The page of at least one log; ``claims`` held against them make a section of their own.

    ``drawn`` are its `report_plots`, where they are drawn already, or a `Drawing` of them.
    """
    written = _written(logs, claims)
    return with_pictures(written, pictures(report_plots(logs), png=False) if drawn is None else drawn)


def _written(logs: Sequence[Logged], claims: ClaimsShown | None) -> str:
    """The page with places for its plots."""
    simulated = any(one.results.simulated for one in logs)
    claimed, several = "", len(logs) > 1
    if claims:
        claimed = section_html(claims_section(claims), (), anchor="claims", title="Claims", simulated=simulated)
    inner = claimed if several else ""
    contents = [("claims", "Claims")] if inner else []
    for number, one in enumerate(logs, 1):
        prefix = _prefix(number, logs)
        level = 3 if several else 2
        chapter, found = _chapter(one, prefix, "" if several else claimed, level)
        if several:
            title = f"{printable(one.results.sample) or 'log'}, {one.results.plan}"
            inner += tag("h2", esc(title), class_="chapter", id=f"{prefix}top")
            found = [(f"{prefix}top", title)]
        contents += found
        inner += chapter
    samples = list(dict.fromkeys(printable(one.results.sample) for one in logs if one.results.sample))
    if unnamed := sum(not one.results.sample for one in logs):
        samples.append("sample not named" if unnamed == 1 else f"{unnamed} samples not named")
    subtitle = _subtitle([one.results for one in logs])
    return page(", ".join(samples), subtitle, inner, contents, made_by="report", simulated=simulated)


def _subtitle(several: Sequence[Results]) -> str:
    """Plan, state, day, meter, and on how much it rests; the log's own day, so that a page is the same anywhere."""
    first = several[0]
    if len(several) > 1:
        return f"{', '.join(dict.fromkeys(printable(one.plan) for one in several))}; {first.started[:10]}"
    _, plan, _, *others = head_of(first)
    return "; ".join((plan, first.started[:10], *others))


def _prefix(number: int, logs: Sequence[Logged | None]) -> str:
    return f"log{number}-" if len(logs) > 1 else ""


def _plots(results: Results, prefix: str) -> _Plots:
    simulated, logs = results.simulated, [("", results)]

    def under(plots: Sequence[Plot], point: str = "") -> list[Plot]:
        return with_conditions(plots, logs, point)

    sweep = sweep_plots([("", results.sweep)], name=f"{prefix}sweep", simulated=simulated) if results.sweep else []
    colour = chromaticity_of([("", results)], name=f"{prefix}white", simulated=simulated)
    blocks: dict[str, list[Plot]] = {}
    drawn: Counter[str] = Counter()
    for kind, block in shown_blocks(results):
        drawn[kind] += 1
        if drawn[kind] <= MAX_BLOCKS:
            plots = show_part(kind).plots([("", block)], f"{prefix}{plain(block.block)}", simulated)
            blocks[block.block] = under(at_settings(plots, block.block), point_of(block.block))
    drift = drift_plot(results.drift, name=f"{prefix}reference", simulated=simulated)
    return _Plots(under(sweep), under(colour), blocks, under([drift])[0] if drift else None)


def with_conditions(plots: Sequence[Plot], logs: Labelled, point: str = "") -> list[Plot]:
    """The plots, which say whose figures they show and how they were measured, at one ``point`` of a sweep or all."""
    held, of = plot_conditions(logs, point), whose(logs)
    return [replace(plot, conditions=held, whose=of) for plot in plots]


def plots_note(logs: Labelled) -> Words:
    """The conditions of all plots once: a screen has only whose they are below each."""
    return Words(f"all plots: {plot_conditions(logs)}")


def chromaticity_of(several: Sequence[tuple[str, Results]], *, name: str, simulated: bool) -> list[Plot]:
    """The chromaticity diagram of all blocks of one log, or of several overlaid; a sweep has one of each point."""
    measured = [one for label, results in several for one in _colours(label, results)]
    return diagrams(measured, several[0][1].target, name=name, simulated=simulated)


def _colours(label: str, results: Results) -> Iterator[Chromaticities]:
    """What all blocks of a log have in the diagram; of a sweep with many points those of the brightest alone."""
    blocks = list(shown_blocks(results))
    if results.sweep is None:
        yield merged(label, (show_part(kind).colours(block) for kind, block in blocks))
        return
    rows = results.sweep.rows
    if len(rows) > MAX_OVERLAID:
        rows = tuple(filter(None, (brightest(rows),)))
    for row in rows:
        own = (one for one in blocks if one[1].block.partition("/")[0] == row.point)
        at = f"{label} at {point_words(row)}" if label else point_words(row)
        yield merged(at, (show_part(kind).colours(block) for kind, block in own))


def _title(shown: Section, kind: str) -> str:
    """``Gamut``, ``Gamut · evening``, and of a sweep ``Gamut · preset=warm brightness=50``."""
    point, _, block = shown.block.rpartition("/")
    parts = (shown.title, "" if block == kind else block, point.replace(",", " "))
    return " · ".join(filter(None, parts))


def _block_sections(results: Results, plots_of: _Plots, prefix: str, level: int) -> Iterator[tuple[str, str, str]]:
    """A section for each block: anchor, name in the contents, HTML. Of a sweep of many points all are folded."""
    known: Defined = {}
    many = results.sweep is not None and len(results.sweep.rows) > MAX_OVERLAID
    for kind, block in shown_blocks(results):
        shown = show_part(kind).section(block)
        anchor, plots = plain(shown.block), plots_of.blocks.get(shown.block, [])
        title = _title(shown, kind)
        where, simulated = f"{prefix}{anchor}", results.simulated
        html = section_html(shown, plots, anchor=where, title=title, simulated=simulated, level=level, known=known)
        if many:
            html = folding(title, html)
        yield anchor, shown.title, html


def _chapter(one: Logged, prefix: str, claimed: str, level: int) -> tuple[str, list[tuple[str, str]]]:
    """All sections of one log, and what the contents name of them."""
    results = one.results
    drawn = _plots(results, prefix)

    def part(anchor: str, shown: Section, plots: Sequence[Plot] = (), first: str = "") -> tuple[str, str, str]:
        where, simulated = f"{prefix}{anchor}", results.simulated
        html = section_html(
            shown, plots, anchor=where, title=shown.title, simulated=simulated, first=first, level=level
        )
        return anchor, shown.title, html

    doubts = ["the run has not ended: what was not measured is absent."] if results.interrupted else []
    first = "".join(warning(capital(text)) for text in doubts) + opening(summary_of(results))
    if drawn.all():
        first += tag("p", esc(capital(plots_note([("", results)]).text)), class_="method plots-note")
    named = Named(tuple(conditions(results, each=True)))
    parts = (
        part("summary", summary_section(results), first=first),
        ("claims", "Claims", claimed),
        *([part("sweep", sweep_section(results, results.sweep), drawn.sweep)] if results.sweep else []),
        part("colour", Section("colour", "Colour", "", ()), drawn.colour),
        *_block_sections(results, drawn, prefix, level),
        part("history", history_section(results, one.events), [drawn.drift] if drawn.drift else []),
        part("absent", absent_section(results, every=False)),
        part("conditions", Section("conditions", "Conditions", "", (named,))),
        part("source", source_section(results, one.log)),
    )
    kept = [(anchor, name, html) for anchor, name, html in parts if html]
    contents: dict[str, str] = {}
    for anchor, name, _ in kept:
        contents.setdefault(name, f"{prefix}{anchor}")
    return "\n".join(html for *_, html in kept), [(anchor, name) for name, anchor in contents.items()]
