"""Drift: a reference patch, read at intervals, shows how the display (and the meter) changed meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Any

from benchd.analysis.drift.drift_colour import colour_drift
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.analysis.results_log import Drift, DriftReading, DriftSegment
from benchd.analysis.uncertainty.quantity import Quantity, absent, derived, merged, ratio, scaled

METHOD = (
    "reference patch read at intervals, changes in % of its first reading; drift per hour is the slope of a "
    "least-squares line over bench time within one session; common practice"
)
ENOUGH = 3
"""Readings for a slope: through two of them every line is perfect."""

NS_PER_MIN = 60e9
AGAIN = "again-"
"""What the last part of a step's id begins with where a resume read the reference once more."""


def is_again(step: str) -> bool:
    """True for a reference reading that the plan does not have: a new session begins with it."""
    return step.rpartition("/")[2].startswith(AGAIN)


def read_again(log_data: LogData, blocks: Iterable[Mapping[str, Any]]) -> list[str]:
    """The reference readings that no plan has: those that a resume began with."""
    names = [str(block["name"]) for block in blocks if block["kind"] == "reference"]
    steps = (one.step for name in names for one in log_data.of_block(name))
    return [step for step in steps if is_again(step)]


def drift(log_data: LogData, block: Mapping[str, Any], meter: MeterRange) -> Drift:
    """One reference block, its readings in the order they were made, whatever their numbers."""
    name = str(block["name"])
    steps = sorted((one for one in log_data.of_block(name) if not is_again(one.step)), key=lambda one: one.records[:1])
    luminances = [luminance_of(one, meter) for one in steps]
    changes = [_change(one, luminances[0]) for one in luminances]
    readings: list[DriftReading] = []
    segments: list[DriftSegment] = []
    for session, group in groupby(range(len(steps)), key=lambda index: steps[index].session):
        own = list(group)
        number = log_data.session_numbers.get(session, 0)
        minutes = [(steps[index].mono_ns - steps[own[0]].mono_ns) / NS_PER_MIN for index in own]
        readings += [
            DriftReading(steps[index].step, number, minute, luminances[index], changes[index])
            for index, minute in zip(own, minutes, strict=True)
        ]
        slope = _per_hour(minutes, [luminances[index] for index in own], luminances[0])
        segments.append(DriftSegment(number, len(own), minutes[-1], slope))
    largest, at = _largest_change(changes, steps)
    return Drift(
        block=name,
        method=METHOD,
        settings=dict(block.get("settings") or {}),
        percent=float(block["percent"]),
        readings=tuple(readings),
        maximum_change=largest,
        maximum_at=at,
        segments=tuple(segments),
        colour=colour_drift(steps, luminances, log_data.session_numbers),
        missing="" if steps else "no reference reading was made",
    )


def _change(luminance: Quantity, first: Quantity) -> Quantity:
    """Change from the first reading, %; of the first itself exactly zero."""
    change = scaled(ratio(luminance, first), 100.0, "%", -100.0)
    return change._replace(s=None) if luminance is first else change


def _largest_change(changes: Sequence[Quantity], steps: Sequence[StepData]) -> tuple[Quantity, str | None]:
    later = range(1, len(changes))
    if not later:
        return absent("%", "one reading shows no drift" if changes else "no reference reading was made"), None
    records = merged(one.records for one in changes)
    unknown = [change for change in changes if not change.plain]
    if unknown:
        return absent("%", f"not every reading can be compared with the first: {unknown[0].why}", records), None
    worst = max(later, key=lambda index: abs(changes[index].value or 0.0))
    return changes[worst], steps[worst].step


def _per_hour(minutes: Sequence[float], luminances: Sequence[Quantity], first: Quantity) -> Quantity:
    """Slope in % of ``first`` per hour: sum of (t - mean t) L / sum of (t - mean t)^2, over the first.

    Its standard deviation is that of the readings, to first order; the first one counts in both places.
    """
    unit = "%/h"
    if len(minutes) < ENOUGH:
        return absent(unit, f"a slope needs {ENOUGH} readings in one session")
    middle = sum(minutes) / len(minutes)
    spread = sum((minute - middle) ** 2 for minute in minutes)
    if not first.value or spread <= 0.0:
        return absent(unit, first.why or "the readings lie at one time")
    weights = [60.0 * (minute - middle) / spread for minute in minutes]
    slope = sum(weight * (one.value or 0.0) for weight, one in zip(weights, luminances, strict=True)) / first.value
    parts = [(100.0 * weight / first.value, one) for weight, one in zip(weights, luminances, strict=True)]
    divided = -100.0 * slope / first.value
    if luminances[0] is first:
        parts[0] = (parts[0][0] + divided, first)
    else:
        parts.append((divided, first))
    return derived(100.0 * slope, unit, parts)
