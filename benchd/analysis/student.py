"""Quantiles of Student's t, without a statistics library."""

from __future__ import annotations

import math
from functools import cache

_SERIES_UP_TO = 200  # degrees of freedom; above, the asymptotic expansion is better than 1e-9


@cache
def t_quantile(p: float, nu: int) -> float:
    """The one-sided quantile t(p, nu): P(T <= t) = p for Student's t with ``nu`` degrees of freedom.

    Up to 200 degrees of freedom by bisection of the finite series of Abramowitz and Stegun (1964) 26.7.3 and
    26.7.4, above by their asymptotic expansion 26.7.5. Raises ValueError outside 0.5 <= p < 1, nu >= 1.
    """
    if nu < 1 or not 0.5 <= p < 1.0:
        raise ValueError(f"t quantile of p {p}, nu {nu}: p must be 0.5 to 1 and nu at least 1")
    if nu > _SERIES_UP_TO:
        return _expanded(normal_quantile(p), nu)
    # In the angle theta = atan(t / sqrt(nu)) the whole range of t is an interval.
    low, high = 0.0, math.pi / 2.0
    for _ in range(64):
        middle = (low + high) / 2.0
        if 0.5 + 0.5 * _central_area(middle, nu) < p:
            low = middle
        else:
            high = middle
    return math.sqrt(nu) * math.tan((low + high) / 2.0)


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


@cache
def normal_quantile(p: float) -> float:
    """The quantile of the standard normal distribution for 0.5 <= p < 1, by bisection of the error function."""
    low, high = 0.0, 40.0
    for _ in range(80):
        middle = (low + high) / 2.0
        if 0.5 * math.erfc(-middle / math.sqrt(2.0)) < p:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _expanded(x: float, nu: int) -> float:
    g1 = (x**3 + x) / 4.0
    g2 = (5.0 * x**5 + 16.0 * x**3 + 3.0 * x) / 96.0
    g3 = (3.0 * x**7 + 19.0 * x**5 + 17.0 * x**3 - 15.0 * x) / 384.0
    g4 = (79.0 * x**9 + 776.0 * x**7 + 1482.0 * x**5 - 1920.0 * x**3 - 945.0 * x) / 92160.0
    return x + g1 / nu + g2 / nu**2 + g3 / nu**3 + g4 / nu**4


def chi_square_quantile(p: float, nu: int) -> float:
    """P(X <= x) = p for chi square, 0.5 <= p < 1: by Wilson and Hilferty's cube root, good to a few per cent.

    Enough for a threshold. Proc. Natl. Acad. Sci. 17 (1931) 684 (from memory).
    """
    share = 2.0 / (9.0 * nu)
    return nu * (1.0 - share + normal_quantile(p) * math.sqrt(share)) ** 3
