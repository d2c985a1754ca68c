"""How far the light of a reference patch may have gone between two of its readings, and where it made a step.

Random walk: the light is taken as a Brownian motion on top of a trend. Over an interval of h its own change has the
variance D h; between two readings of the reference, both exact, that of a Brownian bridge is left: D h f (1 - f) at
the share f of the interval. D comes from second differences of the readings, which hold no linear trend: for equal
intervals of one, D = mean(second difference squared) / 2 - 3 u^2, with u the standard uncertainty of one reading (each
second difference holds the changes of two intervals and 6 u^2). Neighbouring second differences share an interval, so
K intervals determine D with nu = (K - 1) / 1.5 degrees of freedom, times the share of D in the mean that it is left
over of.

Step: a second difference beyond four robust standard deviations (1.4826 median |d|; where the noise of the readings
explains that, the noise).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from statistics import median
from typing import NamedTuple

STEP_LIMIT = 4.0
"""Robust standard deviations of second differences beyond which there is a step."""
DOUBT_LIMIT = 2.5
"""The same for an interval in which a step can't be ruled out: its readings get the interval of a step."""
ROBUST = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation."""
ENOUGH = 3
"""Second differences that determine D: K = 4 intervals."""
ENOUGH_FIRST = 4
"""First differences that determine it instead, where no session has enough second ones: a trend counts as random."""
BEYOND_NOISE = 2.0
"""A robust standard deviation of few differences may be so many times the noise by chance: then it is the noise."""
CONTRAST = math.sqrt(5.0 / 6.0)
"""Noise of half the difference of two neighbouring second differences, over that of one."""


class Course(NamedTuple):
    """Readings of a reference patch in one session: ``minutes`` ascending, relative ``values``, ``u`` of one."""

    minutes: Sequence[float]
    values: Sequence[float]
    u: float


class Walk(NamedTuple):
    """``rate``: relative variance that a minute adds (D over the interval); its degrees of freedom."""

    rate: float
    dof: float


STILL = Walk(0.0, math.inf)


class _Second(NamedTuple):
    """A second difference in units of the noise of one reading.

    ``z``: over the root of the factor of u^2 in its variance; ``square``, ``noise``: its square, and that factor, both
    over the factor of D in it.
    """

    z: float
    square: float
    noise: float


def _seconds(course: Course) -> list[_Second]:
    t, y = course.minutes, course.values
    found = []
    for k in range(1, len(t) - 1):
        before, after = 1.0 / (t[k] - t[k - 1]), 1.0 / (t[k + 1] - t[k])
        d = (y[k + 1] - y[k]) * after - (y[k] - y[k - 1]) * before
        noise, walk = before**2 + (before + after) ** 2 + after**2, before + after
        found.append(_Second(d / math.sqrt(noise), d * d / walk, noise / walk))
    return found


def walk_of(courses: Iterable[Course]) -> Walk:
    """D of all courses of one display together. Intervals with a step do not count, where enough others are left."""
    calm: list[tuple[float, float]] = []
    every: list[tuple[float, float]] = []
    first: list[tuple[float, float]] = []
    for course in courses:
        touched = {k for step in steps_in(course) for k in (step - 1, step)}
        squares = [(one.square, one.noise * course.u**2) for one in _seconds(course)]
        every += squares
        calm += [one for k, one in enumerate(squares) if k not in touched]
        for (t, y), (later, other) in pairwise(zip(course.minutes, course.values, strict=True)):
            first.append(((other - y) * (other - y) / (later - t), 2.0 * course.u**2 / (later - t)))
    if len(every) >= ENOUGH:
        return _rate(calm if len(calm) >= ENOUGH else every, 1.5)
    return _rate(first, 1.0) if len(first) >= ENOUGH_FIRST else STILL


def _rate(squares: Sequence[tuple[float, float]], shared: float) -> Walk:
    """Mean of the squares beyond the noise; ``shared``: how many of them count as one degree of freedom.

    What is left when noise is subtracted is known the less, the more of the whole was noise.
    """
    rate = math.fsum(square - noise for square, noise in squares) / len(squares)
    whole = math.fsum(square for square, _ in squares) / len(squares)
    return Walk(rate, max(1.0, len(squares) / shared * rate / whole)) if rate > 0.0 else STILL


def steps_in(course: Course) -> list[int]:
    """Intervals (0: between the first two readings) in which the light made a step, ascending."""
    z = [one.z for one in _seconds(course)]
    if len(z) < ENOUGH:
        return []
    used: set[int] = set()
    found: list[int] = []
    while True:
        best, size = -1, STEP_LIMIT / 2.0 * max(course.u, 1e-12)
        for interval in range(len(z) + 1):
            if interval in found:
                continue
            largest = max((abs(z[k]) for k in _touching(z, interval) if k not in used), default=0.0)
            own = _contrast(z, interval)
            if own > size and largest > STEP_LIMIT * _spread(z, interval, used, course.u):
                best, size = interval, own
        if best < 0:
            return sorted(found)
        found.append(best)
        used.update(_touching(z, best))


def doubtful(course: Course) -> set[int]:
    """Intervals in which a step can't be ruled out, those of `steps_in` among them."""
    z = [one.z for one in _seconds(course)]
    steps = steps_in(course)
    if len(z) < ENOUGH:
        return set()
    used = {k for step in steps for k in _touching(z, step)}
    return set(steps) | {
        interval
        for interval in range(len(z) + 1)
        if _contrast(z, interval) > DOUBT_LIMIT * _spread(z, interval, used, course.u)
    }


def _touching(z: Sequence[float], interval: int) -> list[int]:
    return [k for k in (interval - 1, interval) if 0 <= k < len(z)]


def _contrast(z: Sequence[float], interval: int) -> float:
    """Size of a step in an interval: it shows in the second differences on both sides with opposite signs."""
    around = [z[k] for k in _touching(z, interval)]
    return abs(around[0] - around[1]) / 2.0 / CONTRAST if len(around) > 1 else abs(around[0])


def _spread(z: Sequence[float], interval: int, used: set[int], u: float) -> float:
    """Robust standard deviation of the second differences that the interval does not touch."""
    rest = [abs(one) for k, one in enumerate(z) if k not in (interval - 1, interval) and k not in used]
    if len(rest) < ENOUGH - 1:
        rest = [abs(one) for one in z]
    found = ROBUST * median(rest)
    return found if found > BEYOND_NOISE * u else u


def step_u(change: float, u: float) -> float:
    """Standard uncertainty that widens an interval to all between two references, and by U.

    The truth lies between two levels that are ``change`` apart, each known with ``u``; the middle is taken. So that the
    interval of 95 % has the half-width |change| / 2 + 1.96 u.
    """
    whole = abs(change) / 2.0 / 1.959964 + u
    return math.sqrt(max(0.0, whole * whole - u * u))
