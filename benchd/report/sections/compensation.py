"""What drift compensation did, as data for a report: how much was taken out, and the figures before and after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import figure
from benchd.report.model import Column, Item, Section, Table, Words
from benchd.report.words import count, point_of

if TYPE_CHECKING:
    from benchd.analysis.results_log import Compensation

MAX_STEPS = 12
"""Rows of the table, those of the largest drift; the data have them all."""
OFF = "switched off"
COLUMNS = (
    Column("patch"),
    Column("drift", "%", sign=True),
    Column("as read", "cd/m2"),
    Column("compensated", "cd/m2"),
)


def compensation_words(several: Sequence[Compensation]) -> str:
    """One sentence for the head of a report; empty where no reference patch was read."""
    if not several:
        return ""
    applied = [one for one in several if one.applied]
    if not applied:
        return f"not compensated: {several[0].why}"
    largest = max(applied, key=lambda one: _size(one.maximum)).maximum
    some = "" if len(applied) == len(several) else f" at {len(applied)} of {count(len(several), 'point')}"
    if not largest.value:
        return f"compensated{some}: the reference patch shows none beyond its noise, so nothing was changed"
    shown = figure(largest, "%", " %", sign=True)
    return f"compensated for drift of {shown} at most{some}; as it was read: --no-compensation"


def compensation_section(several: Sequence[Compensation]) -> Section | None:
    """None where nothing was to be compensated."""
    asked = [one for one in several if one.why != OFF]
    if not asked:
        return None
    about = "drift of the reference patch, taken out of the other patches"
    items = (*_items(asked), Words(asked[0].method, "method"))
    return Section("compensation", "Drift compensation", about, items)


def _items(asked: Sequence[Compensation]) -> Iterator[Item]:
    for one in asked:
        where = point_of(one.block)
        point = f" (at {where})" if where else ""
        if not one.applied:
            yield Words(f"not compensated{point}: {one.why}", "warning")
        for words in (*one.curves, *one.left_out) if len(asked) == 1 else one.left_out:
            yield Words(f"{words}{point}")
    steps = sorted((step for one in asked for step in one.steps if step.drift.value), key=lambda one: -_size(one.drift))
    if steps:
        rows = tuple((one.step, one.drift, one.raw, one.luminance) for one in steps)
        yield Table("Compensated patches", COLUMNS, rows, most=MAX_STEPS, order="most drifted", folded=True)
    else:
        yield Words("the reference patch shows no drift beyond its noise")


def _size(quantity: Quantity) -> float:
    return abs(quantity.value or 0.0)
