"""What a warm-up's readings show: whether the light is stable, swings within a minute, or has still something to come.

**Stable**: over the last ten minutes, one reading a minute, it stayed in a band without much slope (common practice).

**Swings**: one reading a minute sees nothing of a light that swings three times a minute. So the last minutes hold
pairs of readings, one right after the other: two of a pair differ by the meter's noise, the means of the pairs by what
swings, too. Their spacing follows the golden ratio, so that no period is hidden by a regular one.

**Trend**: light that warms up follows L + A exp(-t / tau); a trend that does not end is the line that tau without bound
comes to. Which tau it is, the readings show only vaguely, and what is to come depends on it most of all. So none is
chosen: least squares for each of a grid of tau, and the mean over all of them weighted by how likely each is (Bayesian
model averaging with the weights exp(-BIC / 2); Kass and Raftery, J. Am. Stat. Assoc. 90, 1995, 773, from memory). Its
uncertainty is that of each model and what they differ by. Only the later half of the readings is fitted: a faster part
of the warm-up is over by then, and its shape would outweigh what is left. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from benchd.distributions import t_quantile

WARM_UP_EVERY_S = 60.0
STABLE_READINGS = 11  # ten minutes at one reading a minute
STABLE_SPREAD = 0.01
STABLE_SLOPE = 0.003

HOUR_MIN = 60.0
MIN_READINGS = 11
LATE = 0.5
"""Share of the readings that is fitted."""
TAUS_MIN = (*(2.5 * 1.25**power for power in range(19)), math.inf)
"""Time constants; the last is the line."""
LINE = 6.0
"""How much likelier a line is beforehand than any one time constant: so many come close to it."""
ENDLESS_MIN = 110.0
"""Time constants from which on no end is in sight."""
SURELY = 0.9
"""Weight of the models without an end in sight from which on a trend is called steady."""
LAST_DIGIT = 2e-5
"""Relative standard deviation that no reading falls below: its last digit."""


def is_stable(luminance_cd_m2: Sequence[float]) -> bool:
    """True when the last ten minutes of one reading a minute are stable.

    ``luminance_cd_m2``: readings one minute apart, oldest first. Stable: (max - min)/mean at most 1 % and
    the least-squares slope at most 0.3 % in ten minutes (common practice).
    """
    if len(luminance_cd_m2) < STABLE_READINGS:
        return False
    last = luminance_cd_m2[-STABLE_READINGS:]
    mean = sum(last) / len(last)
    if mean <= 0:
        return False
    middle = (STABLE_READINGS - 1) / 2
    weights = [index - middle for index in range(STABLE_READINGS)]
    per_minute = sum(w * v for w, v in zip(weights, last, strict=True)) / sum(w * w for w in weights)
    drift = abs(per_minute) * (STABLE_READINGS - 1) / mean
    return (max(last) - min(last)) / mean <= STABLE_SPREAD and drift <= STABLE_SLOPE


class Trend(NamedTuple):
    """All relative to the mean luminance, with standard uncertainties ``u_`` and their degrees of freedom.

    ``change``    over the next ``ahead_min``; ``in_hour`` over the next hour; ``per_hour``: as it changes now
    ``endless``   weight of the models that have no end in sight, 0 to 1
    """

    ahead_min: float
    change: float
    u_change: float
    in_hour: float
    u_in_hour: float
    per_hour: float
    u_per_hour: float
    endless: float
    dof: float

    @property
    def k(self) -> float:
        """Coverage factor of 95 %."""
        return t_quantile(0.975, self.dof)

    @property
    def most(self) -> float:
        """The most that may come over ``ahead_min``, either way, at 95 %."""
        return abs(self.change) + self.k * self.u_change

    @property
    def steady(self) -> bool:
        """True for a trend that is there and will not end by itself."""
        return self.endless >= SURELY and abs(self.per_hour) > self.k * self.u_per_hour


class _Fit(NamedTuple):
    weight: float  # logarithm
    tau_min: float
    figures: tuple[tuple[float, float], ...]  # change ahead, in an hour, rate: each with its standard uncertainty


def trend_of(luminance: Sequence[float], ahead_min: float) -> Trend | None:
    """What is to come after readings a minute apart, oldest first; None of fewer than `MIN_READINGS`, or no light."""
    n = max(MIN_READINGS, math.ceil(LATE * len(luminance)))
    if len(luminance) < MIN_READINGS or sum(luminance[-n:]) <= 0.0:
        return None
    fits, shares = _weighed(luminance[-n:], ahead_min)
    found: list[float] = []
    for several in zip(*(fit.figures for fit in fits), strict=True):
        middle = sum(share * value for share, (value, _) in zip(shares, several, strict=True))
        apart = zip(shares, several, strict=True)
        found += [middle, math.sqrt(sum(share * (u * u + (value - middle) ** 2) for share, (value, u) in apart))]
    # Whether it bends is seen best over all of it.
    endless = max(_endless(fits, shares), _endless(*_weighed(luminance, ahead_min)))
    change, u_change, in_hour, u_in_hour, per_hour, u_per_hour = found
    return Trend(ahead_min, change, u_change, in_hour, u_in_hour, per_hour, u_per_hour, endless, n - 3.0)


def _weighed(luminance: Sequence[float], ahead_min: float) -> tuple[list[_Fit], list[float]]:
    mean = sum(luminance) / len(luminance)
    fits = [_fit([one / mean for one in luminance], tau_min, ahead_min) for tau_min in TAUS_MIN]
    top = max(fit.weight for fit in fits)
    weights = [math.exp(fit.weight - top) for fit in fits]
    return fits, [weight / sum(weights) for weight in weights]


def _endless(fits: Sequence[_Fit], shares: Sequence[float]) -> float:
    return sum(share for share, fit in zip(shares, fits, strict=True) if fit.tau_min >= ENDLESS_MIN)


def _fit(relative: Sequence[float], tau_min: float, ahead_min: float) -> _Fit:
    """A level and one part, by least squares; the part is 0 at the last reading."""
    n = len(relative)
    part = [_part(tau_min, index + 1.0 - n) for index in range(n)]
    scale = max(map(abs, part))
    part = [value / scale for value in part]
    middle, level = sum(part) / n, sum(relative) / n
    square = sum((value - middle) ** 2 for value in part)
    share = sum((value - middle) * one for value, one in zip(part, relative, strict=True)) / square
    left = sum((one - level - share * (value - middle)) ** 2 for value, one in zip(part, relative, strict=True))
    left += n * LAST_DIGIT**2
    u_share = math.sqrt(left / (n - 2) / square)
    ways = (_part(tau_min, ahead_min), _part(tau_min, HOUR_MIN), HOUR_MIN * _slope(tau_min))
    weight = -0.5 * n * math.log(left / n) + (math.log(LINE) if math.isinf(tau_min) else 0.0)
    return _Fit(weight, tau_min, tuple((share * way / scale, u_share * abs(way) / scale) for way in ways))


def _part(tau_min: float, after_min: float) -> float:
    """How far a part has come, that many minutes after the last reading."""
    return after_min if math.isinf(tau_min) else -math.expm1(-after_min / tau_min)


def _slope(tau_min: float) -> float:
    """How fast it goes at the last reading, per minute."""
    return 1.0 if math.isinf(tau_min) else 1.0 / tau_min


PAIRS = 8
AT_S = tuple(sorted(60.0 * ((number + 1) * (math.sqrt(5.0) - 1.0) / 2.0 % 1.0) for number in range(PAIRS)))
"""When in the minute, in seconds."""
SEEN = 3.09
"""Normal deviate from which on a swing is seen: one false alarm in a thousand."""


class Swing(NamedTuple):
    """From lowest to highest, relative to the mean luminance, as of a sine; ``seen``: beyond the noise of readings."""

    peak_to_peak: float
    seen: bool


def swing_of(pairs: Sequence[tuple[float, float]]) -> Swing | None:
    """What the pairs at `AT_S` show; None without all of them, or without light.

    The slope over the minute is taken off. The ratio of the variances is held against Fisher's distribution by the
    approximation of Paulson (Ann. Math. Statist. 13, 1942, 233, from memory).
    """
    mean = sum(one + other for one, other in pairs) / max(1, 2 * len(pairs))
    if len(pairs) != PAIRS or mean <= 0.0:
        return None
    middles = [(one + other) / 2.0 / mean for one, other in pairs]
    noise = sum(((one - other) / mean) ** 2 for one, other in pairs) / 2.0 / PAIRS + LAST_DIGIT**2
    at = sum(AT_S) / PAIRS
    square = sum((when - at) ** 2 for when in AT_S)
    slope = sum((when - at) * value for when, value in zip(AT_S, middles, strict=True)) / square
    level = sum(middles) / PAIRS
    left = sum((value - level - slope * (when - at)) ** 2 for when, value in zip(AT_S, middles, strict=True))
    between, freedom = left / (PAIRS - 2), (PAIRS - 2.0, float(PAIRS))
    swings = max(between - noise / 2.0, 0.0)
    return Swing(2.0 * math.sqrt(2.0 * swings), _deviate(between / (noise / 2.0), *freedom) > SEEN)


def _deviate(ratio: float, top_dof: float, bottom_dof: float) -> float:
    """Normal deviate as probable as a ratio of variances."""
    root, top, bottom = math.cbrt(ratio), 2.0 / (9.0 * top_dof), 2.0 / (9.0 * bottom_dof)
    return ((1.0 - bottom) * root - (1.0 - top)) / math.sqrt(bottom * root * root + top)
