"""Student's t and the standard normal for any degrees of freedom, also broken ones, without a statistics library."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

MOST_DOF = 1e7
"""From here on Student's t is the normal distribution to eight digits."""


def normal_cdf(z: float) -> float:
    """P(Z <= z) of the standard normal distribution."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def t_cdf(t: float, dof: float) -> float:
    """P(T <= t) for Student's t with ``dof`` > 0 degrees of freedom, ``math.inf`` being the normal distribution.

    By the regularised incomplete beta function, Abramowitz and Stegun (1964) 26.7.1 and 26.5.27 (from memory).
    """
    if not dof > 0.0:
        raise ValueError(f"Student's t with {dof} degrees of freedom: it needs more than none")
    if dof >= MOST_DOF:
        return normal_cdf(t)
    tail = 0.5 * incomplete_beta(dof / 2.0, 0.5, dof / (dof + t * t))
    return tail if t < 0.0 else 1.0 - tail


def t_above(t: float, dof: float) -> float:
    """P(T > t): the upper tail, exact also where it is tiny."""
    return t_cdf(-t, dof)


@lru_cache(maxsize=1024)
def t_point(p: float, dof: float) -> float:
    """The t that P(T <= t) = ``p`` holds for, 0.5 <= p < 1."""
    if not 0.5 <= p < 1.0:
        raise ValueError(f"the t of p {p}: p must be 0.5 to 1")
    return root_above(lambda t: t_above(t, dof), 1.0 - p)


def root_above(above: Callable[[float], float], tail: float) -> float:
    """The t >= 0 with ``above(t) = tail`` for a falling tail, ``tail`` at most 0.5.

    By the secant rule of Illinois between ends that are doubled until they hold it, on the logarithm of the tail,
    which is nearly straight; to twelve digits.
    """
    goal = math.log(tail)
    low, high = 0.0, 2.0
    at_low, at_high = math.log(above(low)) - goal, math.log(above(high)) - goal
    while at_high > 0.0:
        low, at_low, high = high, at_high, 2.0 * high
        at_high = math.log(above(high)) - goal
    stayed = 0
    for _ in range(200):
        if at_low <= 0.0 or high - low <= 1e-12 * high:
            break
        middle = low + (high - low) * at_low / (at_low - at_high)
        at = math.log(above(middle)) - goal
        if abs(at) < 1e-14 * max(1.0, abs(goal)):
            return middle
        # An end that stays for a second time counts for half: else it would stay for good.
        if at > 0.0:
            low, at_low = middle, at
            at_high, stayed = at_high / 2.0 if stayed > 0 else at_high, 1
        else:
            high, at_high = middle, at
            at_low, stayed = at_low / 2.0 if stayed < 0 else at_low, -1
    return low if at_low <= 0.0 else (low + high) / 2.0


def incomplete_beta(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function I_x(a, b), by its continued fraction (DLMF 8.17.22, from memory)."""
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    if x > (a + 1.0) / (a + b + 2.0):  # where the fraction converges slowly, its mirror image is quick
        return 1.0 - incomplete_beta(b, a, 1.0 - x)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x))
    return front * _fraction(a, b, x) / a


def _fraction(a: float, b: float, x: float) -> float:
    """The continued fraction by the method of Lentz (1976)."""
    tiny = 1e-300
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > tiny else tiny)
    value = d
    for m in range(1, 100_000):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        change = 1.0
        for part in (even, odd):
            d = 1.0 + part * d
            c = 1.0 + part / c
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = c if abs(c) > tiny else tiny
            change = c * d
            value *= change
        if abs(change - 1.0) < 1e-15:
            break
    return value
