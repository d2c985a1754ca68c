"""The normal distribution, Student's t and chi square: one function each, without a statistics library. Pure.

Two ways lead to Student's t on purpose. Its quantile for whole degrees of freedom is the coverage factor of every
published interval, and its last digits are those of a finite series; its distribution function, for any degrees of
freedom, is the incomplete beta function, which is exact also in tails where the series has no digits left.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

MAX_DOF = 1e7
"""From here on Student's t is the normal distribution to eight digits."""
_SERIES_UP_TO = 200  # degrees of freedom; above, the asymptotic expansion is better than 1e-9
FAR_FROM_ROUNDING = 1e-12
_MAX_OF_SERIES = 1.0 - 1e-6  # beyond it the series has too few digits left


def normal_cdf(z: float) -> float:
    """P(Z <= z) of the standard normal distribution."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(p: float) -> float:
    """The z that P(Z <= z) = ``p`` holds for, 0 < p < 1."""
    from statistics import NormalDist  # its import takes longer than most commands need it

    return NormalDist().inv_cdf(p)


def t_cdf(t: float, dof: float) -> float:
    """P(T <= t) for Student's t with ``dof`` > 0 degrees of freedom, ``math.inf`` being the normal distribution.

    By the regularised incomplete beta function, Abramowitz and Stegun (1964) 26.7.1 and 26.5.27 (from memory).
    """
    if not dof > 0.0:
        raise ValueError(f"Student's t with {dof} degrees of freedom: it needs more than none")
    if dof >= MAX_DOF:
        return normal_cdf(t)
    tail = 0.5 * incomplete_beta(dof / 2.0, 0.5, dof / (dof + t * t))
    return tail if t < 0.0 else 1.0 - tail


def t_above(t: float, dof: float) -> float:
    """P(T > t): the upper tail, exact also where it is tiny."""
    return t_cdf(-t, dof)


@lru_cache(maxsize=1024)
def t_quantile(p: float, dof: float) -> float:
    """The one-sided quantile: the t that P(T <= t) = ``p`` holds for, 0.5 <= p < 1, ``dof`` > 0 or ``math.inf``.

    Of whole degrees of freedom up to 200 by bisection of the finite series of Abramowitz and Stegun (1964) 26.7.3 and
    26.7.4, of more by their asymptotic expansion 26.7.5; of broken ones, and far out, by the root of `t_above`.
    """
    if not (dof > 0.0 and 0.5 <= p < 1.0):
        raise ValueError(f"t quantile of p {p}, dof {dof}: p must be 0.5 to 1 and dof more than none")
    if p > _MAX_OF_SERIES or not (math.isinf(dof) or dof == math.floor(dof)):
        return root_above(lambda t: t_above(t, dof), 1.0 - p)
    if dof > _SERIES_UP_TO:
        return _expanded(_normal_bisected(p), dof)
    root = math.sqrt(dof)

    def cdf(theta: float) -> float:
        return 0.5 + 0.5 * _central_area(theta, int(dof))

    # In the angle theta = atan(t / sqrt(dof)) the whole range of t is an interval. The expansion is as good as this:
    about, reach = _expanded(_normal_bisected(p), dof), 1e-9 + 50.0 / dof**5
    near = math.atan((about - reach) / root), math.atan((about + reach) / root)
    sure = cdf(near[0]) < p - FAR_FROM_ROUNDING and cdf(near[1]) > p + FAR_FROM_ROUNDING
    return root * math.tan(_bisected(cdf, p, math.pi / 2.0, 64, near if sure else (0.0, math.pi)))


def chi_square_quantile(p: float, dof: float) -> float:
    """P(X <= x) = p for chi square, 0.5 <= p < 1: by Wilson and Hilferty's cube root, good to a few per cent.

    Enough for a threshold. Proc. Natl. Acad. Sci. 17 (1931) 684 (from memory).
    """
    share = 2.0 / (9.0 * dof)
    return float(dof * (1.0 - share + _normal_bisected(p) * math.sqrt(share)) ** 3)


@lru_cache(maxsize=64)
def _normal_bisected(p: float) -> float:
    """The quantile of the normal distribution, 0.5 <= p < 1, whose last digits published intervals rest on."""
    return _bisected(normal_cdf, p, 40.0, 80)


def _bisected(
    cdf: Callable[[float], float], p: float, high: float, times: int, known: tuple[float, float] = (0.0, math.inf)
) -> float:
    """Where a rising ``cdf`` is ``p``, between 0 and ``high``, and between those ``known``: the path is the same."""
    low = 0.0
    for _ in range(times):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if middle <= known[0] or (middle < known[1] and cdf(middle) < p):
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _central_area(theta: float, nu: int) -> float:
    """P(-t < T < t) for t = sqrt(nu) tan(theta)."""
    sine, cosine = math.sin(theta), math.cos(theta)
    odd = nu % 2 == 1
    if nu == 1:
        return 2.0 * theta / math.pi
    term = cosine if odd else 1.0
    total = term
    for k in range(3 if odd else 2, nu - 1, 2):
        term *= (k - 1) / k * cosine * cosine
        total += term
    return 2.0 / math.pi * (theta + sine * total) if odd else sine * total


def _expanded(x: float, dof: float) -> float:
    g1 = (x**3 + x) / 4.0
    g2 = (5.0 * x**5 + 16.0 * x**3 + 3.0 * x) / 96.0
    g3 = (3.0 * x**7 + 19.0 * x**5 + 17.0 * x**3 - 15.0 * x) / 384.0
    g4 = (79.0 * x**9 + 776.0 * x**7 + 1482.0 * x**5 - 1920.0 * x**3 - 945.0 * x) / 92160.0
    return x + g1 / dof + g2 / dof**2 + g3 / dof**3 + g4 / dof**4


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
