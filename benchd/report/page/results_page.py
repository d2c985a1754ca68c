"""The report page: one HTML file of one log or several, that needs nothing else to be read, printed or kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchd.analysis.catalogue import headlines
from benchd.analysis.log.history import Event
from benchd.analysis.results import Results
from benchd.report.data.log_reference import LogReference
from benchd.report.measurement import show_part, shown_blocks
from benchd.report.page.parts import esc, page, plots_html, section, tag, warning, words
from benchd.report.page.section_html import section_html
from benchd.report.page.sections import events_html, summary, sweep_table
from benchd.report.plots.chromaticity import diagrams, merged
from benchd.report.plots.plot import Plot, at_settings
from benchd.report.plots.sweep import drift_plot, sweep_plots
from benchd.report.sections.claims import ClaimsShown, claims_section
from benchd.report.sections.conditions import conditions, invalidation_words
from benchd.report.sections.whole_log import run_sections
from benchd.report.terminal.sweep import sweep_remarks
from benchd.report.words import by_reason, capital, count, plain, printable, some

MAX_BLOCKS = 12
"""Of a sweep's blocks only these many of a kind have their plots; the table of the sweep has all."""


@dataclass(frozen=True, slots=True)
class Logged:
    """One log: its results, which file it is, and what happened in it."""

    results: Results
    log: LogReference
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class _Drawn:
    """All plots of one log, by what they belong to."""

    sweep: list[Plot]
    colour: list[Plot]
    blocks: dict[str, list[Plot]]
    drift: Plot | None

    def all(self) -> list[Plot]:
        of_blocks = [plot for several in self.blocks.values() for plot in several]
        return [*self.sweep, *self.colour, *of_blocks, *([self.drift] if self.drift else [])]


def report_plots(logs: Sequence[Logged]) -> list[Plot]:
    """Every plot of the page, for files of their own; their names are all different."""
    return [plot for number, one in enumerate(logs, 1) for plot in _draw(one.results, _prefix(number, logs)).all()]


def report_page(logs: Sequence[Logged], claims: ClaimsShown | None = None) -> str:
    """The page of at least one log; ``claims`` held against them make a section of their own."""
    simulated = any(one.results.simulated for one in logs)
    inner, contents = "", []
    claimed = ""
    if claims:
        claimed = section_html(claims_section(claims), (), anchor="claims", title="Claims", simulated=simulated)
    if claimed and len(logs) > 1:
        inner += claimed
        contents.append(("claims", "Claims"))
    for number, one in enumerate(logs, 1):
        prefix = _prefix(number, logs)
        chapter, found = _chapter(one, prefix, claimed if len(logs) == 1 else "")
        if len(logs) > 1:
            title = f"{printable(one.results.sample) or 'log'}, {one.results.plan}"
            inner += tag("h2", esc(title), class_="chapter", id=f"{prefix}top")
            contents.append((f"{prefix}top", title))
        else:
            contents += found
        inner += chapter
    first = logs[0].results
    samples = dict.fromkeys(printable(one.results.sample) or "a sample not named" for one in logs)
    subtitle = f"{', '.join(dict.fromkeys(one.results.plan for one in logs))}; {first.started[:10]}"
    if len(logs) == 1:
        state = "not ended" if first.interrupted else "complete"
        subtitle += f"; {state}, {count(first.readings, 'reading')}, {count(first.faults, 'fault')}"
    return page(", ".join(samples), subtitle, inner, contents, simulated=simulated)


def _prefix(number: int, logs: Sequence[Logged]) -> str:
    return f"log{number}-" if len(logs) > 1 else ""


def _draw(results: Results, prefix: str) -> _Drawn:
    simulated = results.simulated
    sweep = sweep_plots([("", results.sweep)], name=f"{prefix}sweep", simulated=simulated) if results.sweep else []
    colour = chromaticity_of([("", results)], name=f"{prefix}white", simulated=simulated)
    blocks: dict[str, list[Plot]] = {}
    drawn: Counter[str] = Counter()
    for kind, block in shown_blocks(results):
        drawn[kind] += 1
        if drawn[kind] <= MAX_BLOCKS:
            plots = show_part(kind).plots([("", block)], f"{prefix}{plain(block.block)}", simulated)
            blocks[block.block] = at_settings(plots, block.block)
    drift = drift_plot(results.drift, name=f"{prefix}reference", simulated=simulated)
    return _Drawn(sweep, colour, blocks, drift)


def chromaticity_of(several: Sequence[tuple[str, Results]], *, name: str, simulated: bool) -> list[Plot]:
    """The chromaticity diagram of all blocks of one log, or of several overlaid."""
    measured = [
        merged(label, (show_part(kind).colours(block) for kind, block in shown_blocks(results)))
        for label, results in several
    ]
    return diagrams(measured, several[0][1].target, name=name, simulated=simulated)


def _block_sections(results: Results, drawn: _Drawn, prefix: str) -> Iterator[tuple[str, str, str]]:
    """A section for each block: anchor, name in the contents, HTML. Of a sweep, those without a plot are folded."""
    for kind, block in shown_blocks(results):
        shown = show_part(kind).section(block)
        anchor, plots = plain(shown.block), drawn.blocks.get(shown.block, [])
        title = shown.title if shown.block == kind else f"{shown.title} · {shown.block}"
        html = section_html(shown, plots, anchor=f"{prefix}{anchor}", title=title, simulated=results.simulated)
        if results.sweep and not plots:
            html = tag("details", tag("summary", esc(title)) + html)
        yield anchor, shown.title, html


def _chapter(one: Logged, prefix: str, claimed: str) -> tuple[str, list[tuple[str, str]]]:
    """All sections of one log, and what the contents name of them."""
    results, simulated = one.results, one.results.simulated
    drawn = _draw(results, prefix)
    parts: list[tuple[str, str, str]] = []
    shown = summary(results, simulated)
    if results.interrupted:
        shown = warning("The run has not ended: what was not measured is absent.") + shown
    shown = "".join(warning(capital(one)) for one in invalidation_words(results)) + shown
    parts.append(("summary", "Summary", section(f"{prefix}summary", "Summary", shown, simulated=simulated)))
    parts.append(("claims", "Claims", claimed))
    if results.sweep:
        inner = plots_html(drawn.sweep) + sweep_table(results)
        inner += "".join(warning(capital(one)) for one in sweep_remarks(results, results.sweep))
        parts.append(("sweep", "Sweep", section(f"{prefix}sweep", "Sweep", inner, simulated=simulated)))
    inner = plots_html(drawn.colour)
    parts.append(("colour", "Colour", section(f"{prefix}colour", "Colour", inner, simulated=simulated)))
    parts += _block_sections(results, drawn, prefix)
    inner = _history(one, drawn.drift, prefix)
    parts.append(
        ("history", "Drift and faults", section(f"{prefix}history", "Drift and faults", inner, simulated=False))
    )
    parts.append(
        ("absent", "Not available", section(f"{prefix}absent", "Not available", _absent(results), simulated=False))
    )
    rows = words(conditions(results))
    parts.append(("conditions", "Conditions", section(f"{prefix}conditions", "Conditions", rows, simulated=False)))
    parts.append(("source", "Provenance", section(f"{prefix}source", "Provenance", _provenance(one), simulated=False)))
    kept = [(anchor, name, html) for anchor, name, html in parts if html]
    named: dict[str, str] = {}
    for anchor, name, _ in kept:
        named.setdefault(name, f"{prefix}{anchor}")
    return "\n".join(html for *_, html in kept), [(anchor, name) for name, anchor in named.items()]


def _history(one: Logged, drift: Plot | None, prefix: str) -> str:
    """Events, drift, what was done about it, and what was taken off."""
    inner = events_html(one.results, one.events)
    for shown in run_sections(one.results):
        plots = [drift] if drift and shown.block == "drift" else []
        anchor = f"{prefix}history-{plain(shown.block)}"
        inner += section_html(shown, plots, anchor=anchor, title=shown.title, simulated=False, level=3)
    return inner


def _absent(results: Results) -> str:
    reasons = by_reason((one.why, one.result) for one in results.absent)
    return words([(some(names), why) for why, names in reasons]) if reasons else ""


def _provenance(one: Logged) -> str:
    versions = one.results.versions
    rows = [
        ("log", one.log.file),
        ("SHA-256 of the log", one.log.sha256),
        ("shape of results", one.results.schema),
        ("figures", count(len(headlines(one.results)), "headline figure") + f" from {one.results.readings} readings"),
        *((str(name), str(version)) for name, version in versions.items()),
    ]
    note = "The log holds every reading; the same log gives the same page, byte by byte."
    return words(rows) + tag("p", esc(note), class_="method")
