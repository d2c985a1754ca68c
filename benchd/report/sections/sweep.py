"""A sweep as data for a report: one row a point, the ranges, what is to be known of its settings and its points."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator

from benchd.analysis.catalogue import of_points
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.figure_conditions import conditions_text
from benchd.analysis.log.room_note import ROOM, room_words
from benchd.analysis.measurement import in_order
from benchd.analysis.results import Results
from benchd.analysis.results_log import Setting, Sweep, SweepRange
from benchd.analysis.uncertainty.quantity import absent
from benchd.measurements.declared_figure import plain_name
from benchd.report.data.document import point_text
from benchd.report.model import Column, Item, Section, Table, Value, Words
from benchd.report.words import at_points, by_reason, count, point_of, some

MAX_RANGES = 40
"""Rows of their table that a terminal shows; the data have them all."""
WIDTH_OF_HEAD = 12
"""The name of a figure that declares no head is broken into lines of so many signs."""
LIT = f"{ROOM} is more than a twentieth of the screen's black, or not known to be less"


def sweep_section(results: Results, sweep: Sweep) -> Section:
    """All points of the sweep, by what their figures declare of themselves."""
    about = f"{' x '.join(sweep.controls)}, {count(len(sweep.rows), 'point')}"
    items = (
        _points(sweep),
        *_ranges(sweep),
        *(Words(text, "warning") for text in (*_conduct(sweep), *_remarks(results, sweep))),
        Words(sweep.method, "method"),
    )
    return Section("sweep", "Sweep", about, items)


def _points(sweep: Sweep) -> Table:
    """A row a point, a column a figure; on a terminal those of the lowest rank come first."""
    found = of_points(sweep.rows)
    columns = (
        *(Column(name, own=True) for name in sweep.controls),
        *(_column(one, rank, sweep) for one, rank in zip(found.values(), _ranks(found.values()), strict=True)),
        Column("faults"),
    )
    rows: list[tuple[Value, ...]] = []
    for row in sweep.rows:
        quantities = (row.quantity(name) or absent(one.unit, "not measured") for name, one in found.items())
        rows.append((*map(_value, row.settings.values()), *quantities, row.faults or None))
    return Table("Every point of the sweep", columns, tuple(rows), folded=True, goes_on=True)


def _column(one: Figure, rank: int, sweep: Sweep) -> Column:
    own = (row.figures[one.name].conditions for row in sweep.rows if one.name in row.figures)
    under = " or ".join(dict.fromkeys(filter(None, map(conditions_text, own))))
    return Column(column_head(one), one.unit, uncertainty=True, sign=one.unit == "Duv", rank=rank, holds_for=under)


def column_head(one: Figure) -> str:
    """The head of its column in a table of all points, in lines."""
    return one.head or "\n".join(textwrap.wrap(plain_name(one.name), WIDTH_OF_HEAD))


def _ranks(found: Iterable[Figure]) -> list[int]:
    """A rank for each column: by that of its figure; those of one topic and weight, such as x and y, share it.

    Of several figures that are alike, such as coverages, the first counts as declared and each other one behind it.
    """
    alike = Counter[tuple[str, str, int]]()
    weights = []
    for one in found:
        key = (one.topic, one.unit, one.rank)
        weights.append((one.rank + alike[key], one.topic))
        alike[key] += one.better != "nearer"
    order = sorted(dict.fromkeys(weights), key=lambda weight: weight[0])
    return [1 + order.index(weight) for weight in weights]


def _value(setting: Setting) -> Value:
    return f"{setting:g}" if isinstance(setting, float) else setting


def _ranges(sweep: Sweep) -> Iterator[Item]:
    """Both ends of the leading figure over each control of numbers."""
    if not sweep.ranges:
        return
    name = sweep.ranges[0].figure
    unit = of_points(sweep.rows)[name].unit
    ends = ((Column(end, unit, uncertainty=True), Column("at")) for end in ("minimum", "maximum"))
    columns = (Column(f"{name} over"), Column("with"), *(column for pair in ends for column in pair))
    rows = tuple(map(_range, sweep.ranges))
    yield Table(f"Range of {name} over the sweep", columns, rows, most=MAX_RANGES, folded=False)
    for why, several in by_reason((one.missing, point_text(one.others)) for one in sweep.ranges):
        yield Words(at_points(f"incomplete: {why}", several, 0), "warning")


def _range(one: SweepRange) -> tuple[Value, ...]:
    ends = ((one.minimum, one.minimum_at), (one.maximum, one.maximum_at))
    cells = (cell for end, at in ends for cell in (end, None if at is None else _value(at)))
    return (f"{one.control}, {count(one.points, 'point')}", point_text(one.others), *cells)


def _conduct(sweep: Sweep) -> Iterator[str]:
    """What a reader must know of how the settings were made and kept."""
    for words, parts in (
        ("set manually", [row.set_manually for row in sweep.rows]),
        ("set, and not read back: the display does not tell its value", [row.not_read_back for row in sweep.rows]),
    ):
        names = [name for name in sweep.controls if any(name in part for part in parts)]
        if names:
            yield f"{', '.join(names)}: {words}"
    for text in sweep.not_restored:
        yield f"the display was not left as it was found: {text}"
    if troubled := [f"{row.point} ({row.control_faults})" for row in sweep.rows if row.control_faults]:
        yield (
            "faults of the display's controls, such as a setting that the display changed by itself, after which the "
            f"readings were made anew: {some(troubled)}"
        )


def _remarks(results: Results, sweep: Sweep) -> Iterator[str]:
    """What stands out at the points, in their blocks and rooms: a sentence each, with the points it holds for."""
    pairs = [
        (remark.partition(":")[0], point_of(one.block))
        for one in in_order(results)
        for remark in getattr(one, "remarks", ())
        if not room_words(remark)
    ]
    lit = (row.point for row in sweep.rows if any(room_words(one.quantity.why) for one in row.figures.values()))
    pairs += [(LIT, point) for point in lit]
    return (at_points(text, several, len(sweep.rows)) for text, several in by_reason(pairs))
