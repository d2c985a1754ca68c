"""What a warm-up has still to come, from its readings so far: an exponential approach, or a trend without an end.

Light that warms up follows L + A exp(-t / tau); a trend that does not end is the line that tau without bound comes to.
Which tau it is, the readings show only vaguely, and what is to come depends on it most of all. So none is chosen: least
squares for each of a grid of tau, and the mean over all of them weighted by how likely each is (Bayesian model
averaging with the weights exp(-BIC / 2); Kass and Raftery, J. Am. Stat. Assoc. 90, 1995, 773, from memory). Its
uncertainty is that of each model and what they differ by. Only the later half of the readings is fitted: a faster part
of the warm-up is over by then, and its shape would outweigh what is left. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from benchd.distributions import t_quantile

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
