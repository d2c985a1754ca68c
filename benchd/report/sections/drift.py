"""Drift of reference patches, and what was subtracted: dark offset, light of the room; as data for a report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchd.analysis.log.results_run import Offset
from benchd.analysis.results_log import Drift, DriftReading
from benchd.report.data.document import point_text
from benchd.report.figure_text import bare, standard_deviation_cell
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words
from benchd.report.units import sentence
from benchd.report.words import by_reason, count, some

MAX_READINGS = 40
"""Readings that a terminal shows."""

READINGS = (
    Column("minutes"),
    Column("session"),
    Column("L", "cd/m2", uncertainty=True),
    Column("n"),
    Column("s"),
    Column("change", "%", sign=True),
)
AT_POINTS = (
    Column("readings"),
    Column("minutes"),
    Column("first", "cd/m2"),
    Column("largest change", "%", sign=True),
    Column("drift\n%/h"),
)


def drift_section(drifts: Sequence[Drift]) -> Section:
    """One row for each reference patch, and every reading where there is only one."""
    levels = " and ".join(dict.fromkeys(f"{one.percent:g} %" for one in drifts))
    alone = len(drifts) == 1 and not drifts[0].settings
    items = (
        *(() if alone else _of_points(drifts)),
        _readings(drifts, alone=alone),
        *(_of_one(drifts[0]) if alone else ()),
        *_said(drifts),
        Words(drifts[0].method, "method"),
    )
    return Section("drift", "Drift", f"reference patch of {levels} signal, read at intervals", items)


def _readings(drifts: Sequence[Drift], *, alone: bool) -> Table:
    """In a sweep a terminal has the table of points alone."""
    caption = "Every reading of the reference patch"
    if alone:
        return Table(caption, READINGS, tuple(map(_reading, drifts[0].readings)), most=MAX_READINGS, folded=True)
    rows = tuple((point_text(one.settings), *_reading(reading)) for one in drifts for reading in one.readings)
    return Table(caption, (Column("reference patch"), *READINGS), rows, most=0, folded=True)


def _reading(one: DriftReading) -> tuple[Value, ...]:
    light = one.luminance
    return (f"{one.minutes:.1f}", one.session, light, light.n, standard_deviation_cell(light, "cd/m2"), one.change)


def _of_points(drifts: Sequence[Drift]) -> Iterator[Item]:
    """In the order in which the points were measured."""
    controls = list(drifts[0].settings)
    rows = tuple((*one.settings.values(), *_of_point(one)) for one in drifts if len(one.readings) > 1)
    yield Table("Drift at each point", (*map(Column, controls), *AT_POINTS), rows)
    once = [point_text(one.settings) for one in drifts if len(one.readings) == 1]
    if once:
        yield Words(f"read only once, which tells no drift: {some(once)}")
    worst = max((one for one in drifts if one.maximum_change.plain), key=_size, default=None)
    if worst:
        also = (f"at {point_text(worst.settings) or worst.block}",)
        yield Line("largest change", worst.maximum_change, "%", also, sign=True)


def _of_point(one: Drift) -> tuple[Value, ...]:
    slopes = [bare(segment.per_hour, "%", sign=True) for segment in one.segments]
    minutes = " + ".join(f"{segment.minutes:.1f}" for segment in one.segments)
    drift = " ".join(slopes) if set(slopes) - {"-"} else "-"
    return (len(one.readings), minutes, one.readings[0].luminance, one.maximum_change, drift)


def _of_one(one: Drift) -> Iterator[Line]:
    yield Line("largest change", one.maximum_change, "%", _when(one, one.maximum_at), sign=True)
    if (moved := one.colour.maximum_change).present:
        yield Line("in u'v'", moved, "u'v'", _when(one, one.colour.maximum_at))
    for segment in one.segments:
        also = (f"session {segment.session}, {count(segment.readings, 'reading')} in {segment.minutes:.1f} min",)
        yield Line("drift", segment.per_hour, "%/h", also, sign=True)


def _when(one: Drift, step: str | None) -> tuple[str, ...]:
    at = next((reading for reading in one.readings if reading.step == step), None)
    return (f"after {at.minutes:.1f} min of session {at.session}",) if at else ()


def _said(drifts: Sequence[Drift]) -> Iterator[Words]:
    if max(len(one.segments) for one in drifts) > 1:
        yield Words("read in several sessions: minutes and drift per hour begin anew with each of them")
    reasons = [((one.colour.words, one.missing), point_text(one.settings) or one.block) for one in drifts]
    for why, several in by_reason((why, where) for whys, where in reasons for why in whys):
        yield Words(f"{why}: {some(several)}", "warning")


def _size(one: Drift) -> float:
    return abs(one.maximum_change.value or 0.0)


TITLES = {"dark_offset": "dark offset", "ambient": "ambient light"}
SCREENS = {"capped": "cap on the meter", "black": "screen black", "off": "display switched off"}


def offset_section(one: Offset) -> Section:
    """What was read beside the patches, and what became of it."""
    items = (Words(f"incomplete: {one.missing}", "warning"),) if one.missing else tuple(_items(one))
    title = TITLES.get(one.block, one.block)
    return Section(title, sentence(title), SCREENS.get(one.screen, one.screen), items)


def _items(one: Offset) -> Iterator[Item]:
    several = [bare(reading.luminance, "cd/m2", sign=True) for reading in one.readings]
    also = (f"{count(len(several), 'time')}: {', '.join(several)}",) if len(several) > 1 else ()
    yield Line("luminance", one.luminance, "cd/m2", also, sign=True)
    if one.subtracted:
        yield Words(f"subtracted from {count(one.subtracted, 'patch', 'patches')}, as the plan says")
        for words in (*filter(None, (one.why,)), *(f"not subtracted: {words}" for words in one.left_out)):
            yield Words(words, "warning")
    else:
        yield Words(f"not subtracted: {one.why}")
    yield Words(one.method, "method")
