"""Drift compensation: what the reference patch did meanwhile is taken out of the light of the other steps.

    L_corr(t) = L(t) R(t0) / R(t)

with R the course of the reference patch between its readings (`benchd.analysis.reference_curve`) and t0 the moment of
its first reading. X, Y and Z are scaled alike, so chromaticities stay as they were read. Common practice; the
uncertainty after JCGM 100: each reference reading enters with the weight that it has in R(t) / R(t0), under its own
name, so that two compensated steps share it; a scale error of the meter is in both readings and cancels.

A pure step from survey to survey: whatever comes after it does not know whether it happened.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any, NamedTuple

from benchd.analysis.drift import NS_PER_MIN
from benchd.analysis.luminance import MeterRange, luminance_of
from benchd.analysis.quantity import Quantity, absent
from benchd.analysis.reference_curve import Change, ReferenceCurve
from benchd.analysis.results_compensation import CompensatedStep, Compensation
from benchd.analysis.survey import Measured, Survey
from benchd.analysis.uncertainty import Fixed, Source

METHOD = (
    "luminance times R(t0) / R(t): R is the reference patch between its readings (constant, line or smoothing spline, "
    "as far as the readings bear it out), t0 its first reading; X, Y and Z alike, so chromaticity is not changed; "
    "black is not compensated; within one session only; common practice"
)
LIMIT = 0.05
"""Change of the reference beyond which it is no drift (common practice)."""
DIM_CD_M2 = 0.1
"""Below this the light is not compensated: what the backlight does need not be what the black does."""
MOST_CURVE = 400
"""Readings of one session that a curve is laid through; where there are more, every second, third ... is taken."""
OFF = "switched off"
BETWEEN = "drift between reference readings"
ROUNDING = 1e-12
NEGLIGIBLE = 1e-9
"""Relative: what moves a light by less than this is not listed."""


class _Seen(NamedTuple):
    """One reading of the reference patch: minutes of its session, luminance over the first one, relative noise."""

    name: str
    minutes: float
    over_first: float
    sources: tuple[tuple[Source, float], ...]
    noise: float


class _Course(NamedTuple):
    """The reference in one session; ``change`` of its curve at its own first reading counts from ``begin``."""

    curve: ReferenceCurve
    seen: tuple[_Seen, ...]
    first_of: tuple[_Seen, ...]  # readings that the start of the first session's curve rests on
    first_weights: tuple[float, ...]


def compensated(
    survey: Survey, blocks: Iterable[Mapping[str, Any]], meter: MeterRange, wanted: bool | None = None
) -> tuple[Survey, tuple[Compensation, ...]]:
    """The survey with compensated light, and what was done. ``wanted`` None: as the plan says; False: not at all.

    The readings of the reference patch itself stay as they are.
    """
    entries = list(blocks)
    found: list[Compensation] = []
    changed: dict[str, Measured] = {}
    for entry in entries:
        if entry["kind"] != "reference":
            continue
        asked = bool(entry.get("compensate")) if wanted is None else wanted
        one, steps = _of_reference(survey, entry, entries, meter, asked)
        found.append(one)
        changed |= steps
    if not changed:
        return survey, tuple(found)
    return replace(survey, measured=survey.measured | changed, _by_block={}), tuple(found)


def _of_reference(
    survey: Survey, entry: Mapping[str, Any], entries: Sequence[Mapping[str, Any]], meter: MeterRange, asked: bool
) -> tuple[Compensation, dict[str, Measured]]:
    name = str(entry["name"])
    if not asked:
        return _not_done(name, OFF), {}
    references = sorted(survey.of_block(name), key=lambda one: one.records[:1])
    lights = [luminance_of(one, meter) for one in references]
    usable = [(one, light) for one, light in zip(references, lights, strict=True) if light.plain and light.value]
    if len(usable) < 2:
        return _not_done(name, "the reference patch was read less than twice"), {}
    courses, curves, why = _courses(survey, usable)
    if why:
        return _not_done(name, why), {}
    steps: list[CompensatedStep] = []
    changed: dict[str, Measured] = {}
    left_out: dict[str, list[str]] = {}
    for one in _bright_steps(survey, name, entries):
        if one.session not in courses:
            session = survey.session_numbers.get(one.session, 0)
            left_out.setdefault(f"session {session} has no two readings of the reference patch", []).append(one.step)
            continue
        course = courses[one.session]
        moment = _minutes(one)
        new, drift = _scaled(one, course, course.curve.change_at(moment))
        changed[one.step] = new
        number = survey.session_numbers.get(one.session, 0)
        raw = luminance_of(one, meter)
        steps.append(CompensatedStep(one.step, number, drift, raw, luminance_of(new, meter)))
    greatest = max(steps, key=lambda step: abs(step.drift.value or 0.0), default=None)
    notes = tuple(f"{why}: {len(which)} steps, from {which[0]}" for why, which in left_out.items())
    return Compensation(
        block=name,
        method=METHOD,
        applied=bool(steps),
        why="" if steps else "no bright step lies where the reference patch was read",
        curves=curves,
        greatest=greatest.drift if greatest else absent("%", "nothing was compensated"),
        greatest_at=greatest.step if greatest else None,
        steps=tuple(steps),
        left_out=notes,
    ), changed


def _not_done(name: str, why: str) -> Compensation:
    return Compensation(name, METHOD, False, why, (), absent("%", f"not compensated: {why}"), None, ())


def _courses(
    survey: Survey, usable: Sequence[tuple[Measured, Quantity]]
) -> tuple[dict[str, _Course], tuple[str, ...], str]:
    """The course in each session with two readings or more, a sentence on each, and why nothing is to be done."""
    first = usable[0][1].value
    assert first  # only lights with a value above zero are usable
    courses: dict[str, _Course] = {}
    sentences: list[str] = []
    begin: tuple[tuple[_Seen, ...], tuple[float, ...], float] | None = None
    for session, group in groupby(usable, key=lambda pair: pair[0].session):
        seen = [_Seen(one.step, _minutes(one), (light.value or 0.0) / first, *_noise(one)) for one, light in group]
        seen = _of_one_noise(seen)
        worst = max(seen, key=lambda one: abs(one.over_first - 1.0))
        if abs(worst.over_first - 1.0) > LIMIT:
            change = 100.0 * (worst.over_first - 1.0)
            why = f"the reference patch changed by {change:+.1f} % until {worst.name}, more than {100 * LIMIT:g} %: "
            return {}, (), why + "that is no drift, and nothing was compensated"
        seen = _ascending(seen[:: -(-len(seen) // MOST_CURVE)])
        if len(seen) < 2:
            begin = begin or (tuple(seen), (1.0,), seen[0].over_first)
            continue
        curve = ReferenceCurve(
            [one.minutes for one in seen], [one.over_first for one in seen], [one.noise for one in seen]
        )
        weights, level = curve.start
        begin = begin or (tuple(seen), weights, level)
        courses[session] = _Course(curve, tuple(seen), begin[0], begin[1])
        number = survey.session_numbers.get(session, 0)
        sentences.append(f"session {number}: {curve.model} through {len(seen)} readings of the reference patch")
    if not courses:
        return {}, (), "no session has two readings of the reference patch"
    return courses, tuple(sentences), ""


def _ascending(seen: Sequence[_Seen]) -> list[_Seen]:
    """Without those that share a moment with the one before: a log may keep time no finer than its readings."""
    kept: list[_Seen] = []
    for one in seen:
        if not kept or one.minutes > kept[-1].minutes:
            kept.append(one)
    return kept


def _of_one_noise(seen: Sequence[_Seen]) -> list[_Seen]:
    """All with the root mean square of their noises: one patch at one level, each estimated from few readings."""
    noise = math.sqrt(math.fsum(one.noise**2 for one in seen) / len(seen))
    return [
        one._replace(
            noise=noise,
            sources=tuple((source, part * noise / one.noise) for source, part in one.sources if one.noise),
        )
        for one in seen
    ]


def _noise(one: Measured) -> tuple[tuple[tuple[Source, float], ...], float]:
    """What moves this reading of the reference and no other: its scatter and its beat, relative; and all together."""
    if one.mean is None:
        return (), 0.0
    luminance = one.mean[1]
    ending = f" of {one.step}"
    own = [(source, y / luminance) for source, (_, y, _) in one.vectors() or () if source.name.endswith(ending) and y]
    return tuple(own), math.sqrt(math.fsum(part * part for _, part in own))


def _minutes(one: Measured) -> float:
    """The middle of its readings."""
    return one.read_ns / NS_PER_MIN


def _bright_steps(survey: Survey, reference: str, entries: Sequence[Mapping[str, Any]]) -> list[Measured]:
    """The steps that the reference stands for: of the same point of a sweep, and no black among them."""
    point, _, _ = reference.rpartition("/")
    own = [
        str(entry["name"])
        for entry in entries
        if entry["kind"] not in ("reference", "dark_offset", "ambient")
        and str(entry["name"]).rpartition("/")[0] == point
    ]
    return [one for name in own for one in survey.of_block(name) if _is_bright(one)]


def _is_bright(one: Measured) -> bool:
    if one.role.get("level") == "black" or not any(one.code):
        return False
    return one.mean is not None and one.mean[1] >= DIM_CD_M2


def _scaled(one: Measured, course: _Course, change: Change) -> tuple[Measured, Quantity]:
    """The step with its light divided by the reference at its moment over the reference at the very first."""
    begins, level = course.curve.start
    now = level + change.change
    begin = sum(weight * seen.over_first for weight, seen in zip(course.first_weights, course.first_of, strict=True))
    over = now / begin
    if abs(over - 1.0) < ROUNDING:
        over = 1.0
    parts: dict[Source, float] = {}
    for seen, weight, of_begin in zip(course.seen, change.weights, begins, strict=True):
        _add(parts, seen, (weight + of_begin) / now)
    for seen, weight in zip(course.first_of, course.first_weights, strict=True):
        _add(parts, seen, -weight / begin)
    relative = [(source, part) for source, part in parts.items() if abs(part) > NEGLIGIBLE]
    if change.between:
        # Steps that follow each other share it in part: taken as independent, which makes their ratio less certain.
        relative.append((Source(f"{BETWEEN}, at {one.step}"), change.between / now))
    drift = Fixed(tuple((source, 100.0 * over * part) for source, part in relative))
    change_percent = Quantity(100.0 * (over - 1.0), "%", sources=drift, n=len(course.seen))
    return _by_factor(one, 1.0 / over, relative), change_percent


def _add(parts: dict[Source, float], seen: _Seen, weight: float) -> None:
    for source, part in seen.sources:
        parts[source] = parts.get(source, 0.0) + weight * part


def _by_factor(one: Measured, factor: float, relative: Sequence[tuple[Source, float]]) -> Measured:
    assert one.mean is not None  # only bright steps come here
    x, y, z = one.mean
    covariance = one.covariance
    if covariance is not None:
        f = factor * factor
        a, b, c, d, e, g = covariance
        covariance = (f * a, f * b, f * c, f * d, f * e, f * g)
    mean = (factor * x, factor * y, factor * z)
    before = [(source, (factor * u, factor * v, factor * w)) for source, (u, v, w) in one.influences]
    added = [(source, (-part * mean[0], -part * mean[1], -part * mean[2])) for source, part in relative]
    return one._replace(mean=mean, covariance=covariance, influences=(*before, *added))
