"""What holds for a whole log, as data for a report: its summary, what happened, what is absent, where it is from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from benchd.analysis.catalogue import headlines
from benchd.analysis.log.history import Event
from benchd.analysis.results import Absent, Results
from benchd.report.data.log_reference import LogReference
from benchd.report.model import Column, Heading, Item, Named, Section, Table, Words
from benchd.report.sections.compensation import compensation_section
from benchd.report.words import at_points, by_reason, count, some

if TYPE_CHECKING:
    from benchd.analysis.results_log import Sweep

EVENTS = tuple(map(Column, ("minutes", "session", "event", "step", "what")))


def run_sections(results: Results) -> list[Section]:
    """Drift, what was done about it, and what was taken off; few logs have any, and only those load what makes them."""
    made = []
    if results.drift:
        from benchd.report.sections.drift import drift_section

        made.append(drift_section(results.drift))
    compensation = compensation_section(results.compensation)
    made += [compensation] if compensation else []
    if results.offsets:
        from benchd.report.sections.drift import offset_section

        made += map(offset_section, results.offsets)
    return made


def summary_section(results: Results) -> Section:
    """How the figures of the opening are to be read; without a stated meter that is no mere definition."""
    stated = results.meter_is_stated
    note = (
        "U is the expanded uncertainty: the true value is within ± U of the figure with 95 %, or between the two ends "
        "that stand there. "
        if stated
        else "Nothing is stated of the meter: U is of the standard deviation of the readings alone (expanded to 95 %), "
        "and the true value may be farther away. "
    )
    note += "Where there is none, it is not known. k: standard uncertainties in U; "
    note += "n: readings; s: their standard deviation."
    return Section("summary", "Summary", "", (Words(note, "definition" if stated else ""),))


def history_section(results: Results, events: Sequence[Event]) -> Section:
    """Faults, pauses and what else happened; then drift, what was done about it, and what was taken off."""
    faults = sum(event.kind == "fault" for event in events)
    words = f"{count(faults, 'fault') if faults else 'No fault'} in {count(results.sessions, 'session')}."
    rows = tuple((round(one.minutes, 1), one.session, one.kind, one.step, one.text) for one in events)
    items: list[Item] = [Words(words), Table("Faults, pauses and looks at the first patches", EVENTS, rows)]
    for section in run_sections(results):
        items += [Heading(section.title, section.about), *section.items]
    return Section("", "Drift and faults", "", tuple(items))


def absent_section(results: Results, *, every: bool) -> Section:
    """What could not be had, and why: ``every`` result by itself, or those together that have one reason."""
    texts: Iterable[str]
    if every:
        texts = (f"{one.result}: {one.why}" for one in results.absent)
    elif results.sweep:
        texts = _absent_at_points(results.sweep, results.absent)
    else:
        together = by_reason((one.why, one.result) for one in results.absent)
        texts = (f"{some(names)}: {why}" for why, names in together)
    return Section("not available", "Not available", "and why", tuple(Words(text, "warning") for text in texts))


def _absent_at_points(sweep: Sweep, several: Sequence[Absent]) -> Iterator[str]:
    """A sentence for each result and reason, the points that it holds for behind it."""
    points = {row.point for row in sweep.rows}
    pairs = []
    for one in several:
        point, _, rest = one.result.partition("/")
        pairs.append((f"{rest}: {one.why}", point) if point in points else (f"{one.result}: {one.why}", ""))
    return (at_points(text, where, len(sweep.rows)) for text, where in by_reason(pairs))


def source_section(results: Results, log: LogReference) -> Section:
    """Which log it is, and what made it and the report."""
    rows = (
        ("log", log.file),
        ("SHA-256 of the log", log.sha256),
        ("shape of results", results.schema),
        ("figures", count(len(headlines(results)), "headline figure") + f" from {results.readings} readings"),
        *((str(name), str(version)) for name, version in results.versions.items()),
    )
    note = "The log holds every reading; the same log gives the same page, byte by byte."
    return Section("source", "Provenance", "", (Named(rows), Words(note)))
