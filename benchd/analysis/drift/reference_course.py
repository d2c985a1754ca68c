"""The course of one reference patch over a whole log: through its sessions, and through steps of the light.

Within a session the course is a curve (`benchd.analysis.drift.reference_curve`), or several where the light made a step
(`drift.reference_walk`). Between the two references of a step, and between the last reference before a kill
and the first one after it (bench time does not go through), it is not known when the light changed: there the course
is the middle of both, with an interval that holds both and their U.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from benchd.analysis.drift.reference_curve import ReferenceCurve
from benchd.analysis.drift.reference_walk import Course, Walk, doubtful, step_u, steps_in
from benchd.analysis.uncertainty.sources import Source

BETWEEN = "drift between reference readings"
UNKNOWN_MOMENT = "change of light at an unknown moment"
SHARED = math.sqrt(8.0) / math.pi
"""Of the standard uncertainty by a change at an unknown moment, what steps of one interval share."""
NEGLIGIBLE = 1e-9
"""Relative: what moves a light by less than this is not listed."""
SMALLEST_U = 1e-7
"""Of a reading without noise, relative: numbers are rounded."""


class ReferenceReading(NamedTuple):
    """One reading of the reference patch: minutes of its session, luminance over the first one, relative noise."""

    name: str
    minutes: float
    over_first: float
    sources: tuple[tuple[Source, float], ...]
    noise: float


class Session(NamedTuple):
    """The readings of one session, ascending in time."""

    session: str
    seen: tuple[ReferenceReading, ...]

    @property
    def course(self) -> Course:
        """Its numbers alone."""
        return Course([one.minutes for one in self.seen], [one.over_first for one in self.seen], self.noise)

    @property
    def noise(self) -> float:
        """Relative noise of one reading, the same for all."""
        return max(SMALLEST_U, *(one.noise for one in self.seen))


class Level(NamedTuple):
    """The reference at one moment over the reference at the very first: relative contributions of each source."""

    over: float
    relative: tuple[tuple[Source, float], ...]
    readings: int


class _Stretch:
    """Readings of one session between two steps of the light."""

    def __init__(self, seen: Sequence[ReferenceReading], walk: Walk) -> None:
        self.seen = tuple(seen)
        self._walk = walk
        minutes, values, noises = zip(*((one.minutes, one.over_first, one.noise) for one in seen), strict=True)
        self.curve = ReferenceCurve(minutes, values, noises, walk.rate) if len(seen) > 1 else None

    def at(self, minutes: float, *, since_start: bool) -> tuple[tuple[float, ...], float]:
        """Weights of the readings in the level, and the standard uncertainty of what went on between them."""
        if self.curve is None:
            return (1.0,), math.sqrt(self._walk.rate * abs(minutes - self.seen[0].minutes))
        if not since_start:
            level = self.curve.level_at(minutes)
            return level.weights, level.between
        begins, _ = self.curve.start
        change = self.curve.change_at(minutes)
        return tuple(a + b for a, b in zip(begins, change.weights, strict=True)), change.between

    @property
    def start(self) -> tuple[tuple[float, ...], float]:
        """Weights of the readings in the level at the first one, and that level."""
        return ((1.0,), self.seen[0].over_first) if self.curve is None else self.curve.start

    def value(self, weights: Sequence[float]) -> float:
        """The level that these weights make."""
        return math.fsum(weight * one.over_first for weight, one in zip(weights, self.seen, strict=True))


class ReferenceCourse:
    """``sessions`` in the order of the log, each with one reading or more; ``walk``: how far the light goes by chance.

    ``parts`` numbers what is independent under one name, for all reference patches of a log together.
    """

    def __init__(self, sessions: Sequence[Session], walk: Walk, order: Sequence[str], parts: dict[object, int]) -> None:
        self._sessions, self._walk, self._parts = sessions, walk, parts
        self._order = {session: number for number, session in enumerate(order)}
        self._steps = {one.session: steps_in(one.course) for one in sessions}
        self._doubtful = {one.session: doubtful(one.course) for one in sessions}
        self._stretches = {one.session: self._split(one) for one in sessions}
        self._first = self._stretches[sessions[0].session][0]
        self._begin_weights, self._begin = self._first.start
        _, self._begin_between = self._first.at(self._first.seen[0].minutes, since_start=False)

    def _split(self, one: Session) -> list[_Stretch]:
        ends = [0, *(step + 1 for step in sorted(self._doubtful[one.session])), len(one.seen)]
        return [_Stretch(one.seen[a:b], self._walk) for a, b in pairwise(ends)]

    def level(self, session: str, minutes: float, step: str, own_u: Callable[[], float]) -> Level | None:
        """At a step's moment; None where no two readings of the reference stand about it.

        ``own_u``: relative standard uncertainty of the step's own light, which an interval of unknown moment needs.
        """
        own = next((one for one in self._sessions if one.session == session), None)
        if own is None or len(own.seen) < 2:
            around = self._across(session, minutes)
            return None if around is None else self._bracketed(*around, step, own_u)
        interval = sum(one.minutes <= minutes for one in own.seen) - 1
        if interval in self._doubtful[session] and interval + 1 < len(own.seen):
            return self._bracketed(own.seen[interval], own.seen[interval + 1], step, own_u, minutes)
        stretch = self._stretches[session][sum(interval > at for at in self._doubtful[session])]
        first = stretch is self._first
        weights, between = stretch.at(minutes, since_start=first)
        if not first:
            between = math.hypot(between, self._begin_between)
        now = stretch.value(weights)
        relative, _ = self._against_begin(zip(stretch.seen, weights, strict=True), now)
        if between > NEGLIGIBLE * now:
            relative += self._shared(own, interval, minutes, between / now, step)
        return Level(now / self._begin, tuple(relative), len(own.seen))

    def _across(self, session: str, minutes: float) -> tuple[ReferenceReading, ReferenceReading] | None:
        """The last reading before a moment and the first one after it, in whatever session; None without both."""
        place = self._order.get(session, -1)
        timed = [
            ((self._order.get(one.session, -1), seen.minutes if one.session == session else 0.0), seen)
            for one in self._sessions
            for seen in one.seen
        ]
        before = [seen for at, seen in timed if at <= (place, minutes)]
        after = [seen for at, seen in timed if at > (place, minutes)]
        return (before[-1], after[0]) if before and after else None

    def _bracketed(
        self,
        before: ReferenceReading,
        after: ReferenceReading,
        step: str,
        own_u: Callable[[], float],
        minutes: float | None = None,
    ) -> Level:
        """Between two readings, the light changed at an unknown moment."""
        now = (before.over_first + after.over_first) / 2.0
        relative, noise = self._against_begin([(before, 0.5), (after, 0.5)], now)
        u = step_u((after.over_first - before.over_first) / now, math.hypot(noise, own_u()))
        share = None
        if minutes is not None:
            took = after.minutes - before.minutes
            share = (minutes - before.minutes) / took
            u = math.hypot(u, math.sqrt(self._walk.rate * took * share * (1.0 - share)) / now)
        if u > NEGLIGIBLE:
            relative += self._switched(before, share, u, step)
        return Level(now / self._begin, tuple(relative), 2)

    def _against_begin(
        self, seen: Iterable[tuple[ReferenceReading, float]], now: float
    ) -> tuple[list[tuple[Source, float]], float]:
        """What moves the weighted readings over the begin, relative: each source, and all together."""
        begin = zip(self._first.seen, self._begin_weights, strict=True)
        weighted = [(one, weight / now) for one, weight in seen] + [
            (one, -weight / self._begin) for one, weight in begin
        ]
        parts: dict[Source, float] = {}
        for one, weight in weighted:
            for source, part in one.sources:
                parts[source] = parts.get(source, 0.0) + weight * part
        noise = math.sqrt(math.fsum(part * part for part in parts.values()))
        return [(source, part) for source, part in parts.items() if abs(part) > NEGLIGIBLE], noise

    def _shared(
        self, own: Session, interval: int, minutes: float, between: float, step: str
    ) -> Iterator[tuple[Source, float]]:
        """``between`` as what steps of one interval share, and the rest.

        A Brownian bridge is the sum of sin(k pi f) sqrt(2) / (k pi) with independent normal factors (Karhunen-Loeve):
        two of them hold what neighbours have in common.
        """
        rest = between * between
        if 0 <= interval < len(own.seen) - 1:
            took = own.seen[interval + 1].minutes - own.seen[interval].minutes
            share = (minutes - own.seen[interval].minutes) / took
            whole = share * (1.0 - share)
            for k in (1, 2) if whole > NEGLIGIBLE else ():
                part = between * math.sqrt(2.0 / whole) * math.sin(k * math.pi * share) / (k * math.pi)
                rest -= part * part
                yield self._source((own.session, own.seen[interval].name, k)), part
        yield self._source(step), math.sqrt(max(0.0, rest))

    def _switched(
        self, before: ReferenceReading, share: float | None, u: float, step: str
    ) -> Iterator[tuple[Source, float]]:
        """``u`` as what steps of one interval share, and the rest.

        Whether the light had changed before or after a step is a telegraph signal with one change at a moment that is
        equally likely anywhere: covariance 1 - 2 |f - g|, whose largest Karhunen-Loeve terms are cos(pi f) and
        sin(pi f) with 8 / pi^2 of the variance together. Across a kill the share is not known: all have the same.
        """
        angle = math.pi * share if share is not None else 0.0
        for part, size in enumerate((math.cos(angle), math.sin(angle))):
            yield Source(f"{UNKNOWN_MOMENT}, after {before.name}", math.inf, part), u * SHARED * size
        yield Source(f"{UNKNOWN_MOMENT}, at {step}"), u * math.sqrt(1.0 - SHARED * SHARED)

    def _source(self, key: object) -> Source:
        dof = self._walk.dof if self._walk.rate else math.inf
        return Source(BETWEEN, dof, self._parts.setdefault(key, len(self._parts)))

    def sentences(self, numbers: Mapping[str, int]) -> Iterator[str]:
        """How the reference went, one sentence a session, and one a step of its light."""
        for one in self._sessions:
            number = numbers.get(one.session, 0)
            for stretch in self._stretches[one.session]:
                if stretch.curve is not None:
                    count = len(stretch.seen)
                    yield f"session {number}: {stretch.curve.model} through {count} readings of the reference patch"
            for step in self._steps[one.session]:
                before, after = one.seen[step], one.seen[step + 1]
                change = 100.0 * (after.over_first / before.over_first - 1.0)
                yield (
                    f"session {number}: the light changed by {change:+.2f} % between {before.name} and {after.name}, "
                    "faster than drift; readings between them may be of either light, and their interval holds both"
                )
