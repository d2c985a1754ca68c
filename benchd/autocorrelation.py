"""Serial correlation of consecutive readings, by lag in seconds. Pure, standard library only.

The mean of a series of n readings is taken off before products of them are, so every product is too small by the
variance of that mean: c_k = g_k - g_0 V with V = Var(mean) / g_0. Put back, with the second term of Kendall (1954) and
Marriott and Pope (1954; both from memory): r_k = (r'_k + V (1 - r'_k)) (1 + 2 k / n), which is r' + (1 + 3 r) / n for
the first lag of a first-order process. The standard uncertainty of r_k is Bartlett's (1946, from memory). What lies
beyond the first lag that is not beyond 1 / sqrt(n) counts as nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

FEWEST = 60
"""Consecutive readings from which it is known."""
MAX_LAGS = 40
ROUNDS = 8
MAX_V, MAX_R = 0.6, 0.995
"""What an estimate from so few readings is kept below."""


class Lag(NamedTuple):
    """Correlation ``r`` of two readings that begin ``lag_s`` seconds apart, and its standard uncertainty ``u``."""

    lag_s: float
    r: float
    u: float


class Autocorrelation(NamedTuple):
    """``lags``: ascending, up to the last one that counts, at least one; ``readings``: how many it rests on.

    ``memory``: 1 + 2 times the sum of r over the lags that count: so many readings determine the mean as one
    independent reading does.
    """

    lags: tuple[Lag, ...]
    memory: float
    readings: int


def autocorrelation(values: Sequence[float], spacing_s: float) -> Autocorrelation | None:
    """Of consecutive readings ``spacing_s`` apart; None where they are fewer than `FEWEST` or are all alike."""
    n = len(values)
    mean = math.fsum(values) / n if n else 0.0
    off = [value - mean for value in values]
    variance = math.fsum(one * one for one in off) / n if n else 0.0
    if n < FEWEST or spacing_s <= 0.0 or variance <= (1e-9 * mean) ** 2:
        return None
    most = min(n // 4, MAX_LAGS)
    raw = [math.fsum(off[i] * off[i + k] for i in range(n - k)) / (n - k) / variance for k in range(most + 1)]
    count = next((k for k in range(1, most + 1) if raw[k] <= 0.0), most + 1)
    of_mean = _of_mean(raw[:count], n)
    found = raw
    for _ in range(ROUNDS):
        found = [1.0, *(min((r + of_mean * (1.0 - r)) * (1.0 + 2.0 * k / n), 1.0) for k, r in enumerate(raw) if k)]
        count = next((k for k in range(1, most + 1) if found[k] <= 1.0 / math.sqrt(n)), most + 1)
        of_mean = _of_mean(found[:count], n)
    counted = [min(max(r, -1.0), MAX_R) if k else 1.0 for k, r in enumerate(found)]
    lags = tuple(Lag(k * spacing_s, counted[k], _u(counted[:count], k, n)) for k in range(1, max(count, 2)))
    return Autocorrelation(lags, 1.0 + 2.0 * math.fsum(counted[1:count]), n)


def _of_mean(found: Sequence[float], n: int) -> float:
    """Variance of the mean of n readings over that of one; ``found``: r from lag 0 on."""
    return min(MAX_V, (1.0 + 2.0 * math.fsum((1.0 - k / n) * r for k, r in enumerate(found) if k)) / n)


def _u(found: Sequence[float], k: int, n: int) -> float:
    """Bartlett: the root of the sum over j of r_j^2 + r_j+k r_j-k - 4 r_k r_j r_j-k + 2 r_j^2 r_k^2, over n."""
    count = len(found)

    def r(j: int) -> float:
        return found[abs(j)] if abs(j) < count else 0.0

    span = range(-count - k, count + k + 1)
    whole = math.fsum(
        r(j) ** 2 + r(j + k) * r(j - k) - 4.0 * r(k) * r(j) * r(j - k) + 2.0 * r(j) ** 2 * r(k) ** 2 for j in span
    )
    return math.sqrt(max(whole, 1.0) / n) if count <= k else math.sqrt(max(whole, 0.0) / n)
