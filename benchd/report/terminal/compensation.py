"""What drift compensation did, as text: how much was taken out, and the figures before and after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import bare, figure
from benchd.report.terminal.text_page import Page
from benchd.report.words import columns, count

if TYPE_CHECKING:
    from benchd.analysis.drift.results_compensation import Compensation

MOST_STEPS = 12
"""Rows of the table, those of the greatest drift; the data have them all."""
OFF = "switched off"


def compensation_words(several: Sequence[Compensation]) -> str:
    """One sentence for the head of a report; empty where no reference patch was read."""
    if not several:
        return ""
    applied = [one for one in several if one.applied]
    if not applied:
        return f"not compensated: {several[0].why}"
    greatest = max(applied, key=lambda one: _size(one.greatest)).greatest
    some = "" if len(applied) == len(several) else f" at {len(applied)} of {count(len(several), 'point')}"
    if not greatest.value:
        return f"compensated{some}: the reference patch shows none beyond its noise, so nothing was changed"
    shown = figure(greatest, "%", " %", sign=True)
    return f"compensated for drift of {shown} at most{some}; as it was read: --no-compensation"


def compensation_lines(several: Sequence[Compensation], page: Page) -> list[str]:
    """The section; none where nothing was to be compensated."""
    asked = [one for one in several if one.why != OFF]
    if not asked:
        return []
    steps = [(one, step) for one in asked for step in one.steps if step.drift.value]
    lines = page.heading("compensation", "drift of the reference patch, taken out of the other patches")
    for one in asked:
        where = one.block.rpartition("/")[0]
        point = f" (at {where})" if where else ""
        if not one.applied:
            lines += page.warning(f"not compensated{point}: {one.why}")
        for words in (*one.curves, *one.left_out) if len(asked) == 1 else one.left_out:
            lines += page.prose(f"{words}{point}")
    if not steps:
        return [
            *lines,
            *page.prose("the reference patch shows no drift beyond its noise"),
            *page.method(asked[0].method),
        ]
    steps.sort(key=lambda pair: -_size(pair[1].drift))
    rows = [("", "", "as read", "compensated"), ("patch", "drift %", "cd/m2", "cd/m2")]
    for _, step in steps[:MOST_STEPS]:
        light = (bare(step.raw, "cd/m2"), bare(step.luminance, "cd/m2"))
        rows.append((step.step, bare(step.drift, "%", sign=True), *light))
    lines += [f"  {row}" for row in columns(rows, left=(0,))]
    if len(steps) > MOST_STEPS:
        lines += page.prose(
            f"and {count(len(steps) - MOST_STEPS, 'patch', 'patches')} of less drift; the data have all"
        )
    return lines + page.method(asked[0].method)


def _size(quantity: Quantity) -> float:
    return abs(quantity.value or 0.0)
