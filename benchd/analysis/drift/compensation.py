"""Drift compensation: the light of all other steps is corrected for the drift of the reference patch.

    L_corr(t) = L(t) R(t0) / R(t)

with R the course of the reference patch between its readings (`drift.reference_curve`) and t0 the moment of
its first reading. X, Y and Z are scaled alike, so chromaticities stay as they were read. Common practice; the
uncertainty after JCGM 100: each reference reading enters with the weight that it has in R(t) / R(t0), under its own
name, so that two compensated steps share it; a scale error of the meter is in both readings and cancels.

A pure step from log data to log data: whatever comes after it does not depend on whether it happened.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby
from typing import Any

from benchd.analysis.drift.drift import NS_PER_MIN
from benchd.analysis.drift.reference_course import Level, ReferenceCourse, ReferenceReading, Session
from benchd.analysis.drift.reference_walk import walk_of
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.analysis.meter_model.metrology import is_noise
from benchd.analysis.results_log import CompensatedStep, Compensation
from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.analysis.uncertainty.sources import Fixed, Source

METHOD = (
    "luminance times R(t0) / R(t): R is the reference patch between its readings (constant, line or smoothing spline, "
    "as far as the readings support it), t0 its first reading; X, Y and Z alike, so chromaticity is not changed; "
    "black is not compensated, and may follow the drift or not; between two readings at least a random walk is "
    "uncertain; common practice"
)
OF_BLACK = "drift that black may follow"
"""Name of the source: black follows the drift not at all (an emissive panel), in full (a backlight), or in part."""
MAY_FOLLOW = 1.0 / math.sqrt(3.0)
"""Of the drift, as a standard uncertainty: rectangular from none to all (JCGM 100, 4.3.7), beside the drift's own."""
LIMIT = 0.05
"""Change of the reference beyond which it is no drift (common practice)."""
DIM_CD_M2 = 0.1
"""Below this the light is not compensated: what the backlight does need not be what the black does."""
MAX_CURVE = 400
"""Readings of one session that a curve is laid through; where there are more, every second, third ... is taken."""
OFF = "switched off"
ROUNDING = 1e-12


def compensated(
    log_data: LogData, blocks: Iterable[Mapping[str, Any]], meter: MeterRange, wanted: bool | None = None
) -> tuple[LogData, tuple[Compensation, ...]]:
    """The log data with compensated light, and what was done. ``wanted`` None: as the plan requests; False: not at all.

    The readings of the reference patch itself stay as they are.
    """
    entries = list(blocks)
    references: list[tuple[str, tuple[Session, ...] | str]] = []
    for entry in entries:
        if entry["kind"] == "reference":
            name, requested = str(entry["name"]), bool(entry.get("compensate")) if wanted is None else wanted
            references.append((name, _sessions(log_data, name, meter) if requested else OFF))
    # One display: how far its light goes by chance is estimated from all points of a sweep together.
    walk = walk_of(session.course for _, found in references if not isinstance(found, str) for session in found)
    parts: dict[object, int] = {}
    found: list[Compensation] = []
    changed: dict[str, StepData] = {}
    for name, sessions in references:
        if isinstance(sessions, str):
            found.append(
                Compensation(name, METHOD, False, sessions, (), absent("%", f"not compensated: {sessions}"), None, ())
            )
            continue
        course = ReferenceCourse(sessions, walk, list(log_data.session_numbers), parts)
        steps_of_point = _steps(log_data, name, entries)
        one, steps = _of_reference(log_data, name, [step for step in steps_of_point if _is_bright(step)], course, meter)
        found.append(one)
        changed |= steps | {step.step: _dark(step, course) for step in steps_of_point if not _is_bright(step)}
    if not changed:
        return log_data, tuple(found)
    return replace(log_data, measured=log_data.measured | changed, _by_block={}), tuple(found)


def _of_reference(
    log_data: LogData, name: str, bright: Sequence[StepData], course: ReferenceCourse, meter: MeterRange
) -> tuple[Compensation, dict[str, StepData]]:
    steps: list[CompensatedStep] = []
    changed: dict[str, StepData] = {}
    left_out: dict[str, list[str]] = {}
    for one in bright:
        level = course.level(one.session, _minutes(one), one.step, partial(_relative_u, one))
        if level is None:
            session = log_data.session_numbers.get(one.session, 0)
            left_out.setdefault(f"session {session} has fewer than two readings of the reference patch", []).append(
                one.step
            )
            continue
        new, drift = _scaled(one, level)
        changed[one.step] = new
        number = log_data.session_numbers.get(one.session, 0)
        raw = luminance_of(one, meter)
        steps.append(CompensatedStep(one.step, number, drift, raw, luminance_of(new, meter)))
    largest = max(steps, key=lambda step: abs(step.drift.value or 0.0), default=None)
    notes = tuple(f"{why}: {len(which)} steps, from {which[0]}" for why, which in left_out.items())
    return Compensation(
        block=name,
        method=METHOD,
        applied=bool(steps),
        why="" if steps else "no bright step lies where the reference patch was read",
        curves=tuple(course.sentences(log_data.session_numbers)),
        maximum=largest.drift if largest else absent("%", "nothing was compensated"),
        maximum_at=largest.step if largest else None,
        steps=tuple(steps),
        left_out=notes,
    ), changed


def _sessions(log_data: LogData, name: str, meter: MeterRange) -> tuple[Session, ...] | str:
    """The readings of one reference patch, by session; or why it can't be used."""
    references = sorted(log_data.of_block(name), key=lambda one: one.records[:1])
    lights = [luminance_of(one, meter) for one in references]
    usable = [(one, light) for one, light in zip(references, lights, strict=True) if light.plain and light.value]
    if len(usable) < 2:
        return "the reference patch was read less than twice"
    first = usable[0][1].value or 0.0  # only lights with a value above zero are usable
    sessions: list[Session] = []
    for session, group in groupby(usable, key=lambda pair: pair[0].session):
        seen = _of_one_noise(
            [
                ReferenceReading(one.step, _minutes(one), (light.value or 0.0) / first, *_noise(one))
                for one, light in group
            ]
        )
        worst = max(seen, key=lambda one: abs(one.over_first - 1.0))
        if abs(worst.over_first - 1.0) > LIMIT:
            change = 100.0 * (worst.over_first - 1.0)
            return (
                f"the reference patch changed by {change:+.1f} % until {worst.name}, more than {100 * LIMIT:g} %: "
                "that is no drift, and nothing was compensated"
            )
        sessions.append(Session(session, tuple(_ascending(seen[:: -(-len(seen) // MAX_CURVE)]))))
    return tuple(sessions)


def _ascending(seen: Sequence[ReferenceReading]) -> list[ReferenceReading]:
    """Without those that share a moment with the one before: a log may keep time no finer than its readings."""
    kept: list[ReferenceReading] = []
    for one in seen:
        if not kept or one.minutes > kept[-1].minutes:
            kept.append(one)
    return kept


def _of_one_noise(seen: Sequence[ReferenceReading]) -> list[ReferenceReading]:
    """All with the root mean square of their noises: one patch at one level, each estimated from few readings."""
    noise = math.sqrt(math.fsum(one.noise**2 for one in seen) / len(seen))
    return [
        one._replace(
            noise=noise,
            sources=tuple((source, part * noise / one.noise) for source, part in one.sources if one.noise),
        )
        for one in seen
    ]


def _noise(one: StepData) -> tuple[tuple[tuple[Source, float], ...], float]:
    """What moves this reading of the reference and no other: its noise and its beat, relative; and all together."""
    assert one.mean is not None  # only steps with light come here
    found = one.vectors() or ()
    own = [(source, y / one.mean[1]) for source, (_, y, _) in found if is_noise(source, one.step) and y]
    return tuple(own), math.sqrt(math.fsum(part * part for _, part in own))


def _minutes(one: StepData) -> float:
    """The middle of its readings."""
    return one.read_ns / NS_PER_MIN


def _steps(log_data: LogData, reference: str, entries: Sequence[Mapping[str, Any]]) -> list[StepData]:
    """The steps that the reference stands for: of the same point of a sweep."""
    point, _, _ = reference.rpartition("/")
    own = [str(entry["name"]) for entry in entries if entry["kind"] not in ("reference", "dark_offset", "ambient")]
    return [one for name in own if name.rpartition("/")[0] == point for one in log_data.of_block(name)]


def _dark(one: StepData, course: ReferenceCourse) -> StepData:
    """A step that is not compensated: its light may have followed the drift since the first reference, or not."""
    if one.mean is None or not one.mean[1] > 0.0:
        return one
    if (level := course.level(one.session, _minutes(one), one.step, partial(_relative_u, one))) is None:
        return one
    change = 1.0 - 1.0 / level.over
    own = math.hypot(*(part for _, part in level.relative))
    part = math.copysign(MAY_FOLLOW * abs(change) + own, change)
    x, y, z = one.mean
    return one._replace(influences=(*one.influences, (Source(OF_BLACK), (part * x, part * y, part * z))))


def _is_bright(one: StepData) -> bool:
    if one.labels.get("level") == "black" or not any(one.code):
        return False
    return one.mean is not None and one.mean[1] >= DIM_CD_M2


def _relative_u(one: StepData) -> float:
    """Relative standard uncertainty of a step's own luminance."""
    assert one.mean is not None  # only steps with light come here
    light = one.mean[1]
    return math.sqrt(math.fsum((y / light) ** 2 for _, (_, y, _) in one.vectors() or ()))


def _scaled(one: StepData, level: Level) -> tuple[StepData, Quantity]:
    """The step with its light divided by the reference at its moment over the reference at the very first."""
    over = 1.0 if abs(level.over - 1.0) < ROUNDING else level.over
    drift = Fixed(tuple((source, 100.0 * over * part) for source, part in level.relative))
    change_percent = Quantity(100.0 * (over - 1.0), "%", sources=drift, n=level.readings)
    return _by_factor(one, 1.0 / over, level.relative), change_percent


def _by_factor(one: StepData, factor: float, relative: Sequence[tuple[Source, float]]) -> StepData:
    assert one.mean is not None  # only bright steps come here
    x, y, z = one.mean
    a, b, c, d, e, g = one.covariance or (0.0,) * 6
    f = factor * factor
    covariance = None if one.covariance is None else (f * a, f * b, f * c, f * d, f * e, f * g)
    mean = (factor * x, factor * y, factor * z)
    before = [(source, (factor * u, factor * v, factor * w)) for source, (u, v, w) in one.influences]
    added = [(source, (-part * mean[0], -part * mean[1], -part * mean[2])) for source, part in relative]
    return one._replace(mean=mean, covariance=covariance, influences=(*before, *added))
