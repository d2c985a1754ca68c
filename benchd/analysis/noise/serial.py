"""Serial correlation of readings: what it does to their sample variance and to the variance of their mean.

With r the correlation by lag (`benchd.autocorrelation`), n readings of variance S, and R the matrix of r between them:

    variance of the mean     S V,  V = sum of R / n^2                                  (JCGM 100, 4.2.7 and F.1.2.3)
    expected sample variance S n (1 - V) / (n - 1), so s^2 is divided by that
    its degrees of freedom   tr(C R)^2 / tr(C R C R),  C the matrix that takes the mean off

r is known with an uncertainty u(V), which is the same for all steps of a log. So that it does not average away in a
mean of many steps, the standard uncertainty is larger by t(0.975, nu) / 1.96 with nu = 2 / (u(V) / (V (1 - V)))^2
(JCGM 100, G.4.2). Where r of the first lag is not beyond chance, readings count as independent.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.uncertainty.sources import NORMAL, Covariance, Triple, coverage_factor, full, six
from benchd.autocorrelation import Lag

MAX_V = 0.995
"""Of readings that add hardly any information."""
MAX_MATRIX = 200
"""Readings of one step for which R is laid out; of more, every second, third ... one."""
BEYOND_CHANCE = 1.645
"""Normal quantile, one-sided: of independent readings r has the standard deviation 1 / sqrt(n)."""
FORGOTTEN = 0.02
"""A correlation below this is none."""


class CorrelationCurve(NamedTuple):
    """r and its standard uncertainty by lag in seconds; ``counts`` false: not beyond chance."""

    lags: tuple[Lag, ...]
    readings: int

    @property
    def counts(self) -> bool:
        """True when readings are not independent, beyond chance in 5 % of cases."""
        return self.lags[0].r > BEYOND_CHANCE / math.sqrt(self.readings)

    def at(self, seconds: Array) -> tuple[Array, Array]:
        """r and u at lags; between two that are known in proportion of logarithms, beyond the last one exponential."""
        if not self.counts:
            return np.where(seconds > 0.0, 0.0, 1.0), np.zeros_like(seconds)
        known = np.array([0.0, *(lag.lag_s for lag in self.lags)])
        r = np.maximum([1.0, *(lag.r for lag in self.lags)], 1e-3)
        u = np.array([0.0, *(lag.u for lag in self.lags)])
        found = np.exp(np.interp(seconds, known, np.log(r)))
        beyond = np.maximum(seconds - known[-1], 0.0)
        found = found * np.exp(beyond * math.log(float(r[-1])) / float(known[-1]))
        return np.where(found < FORGOTTEN, 0.0, found), np.interp(seconds, known, u)


class EffectiveReadings(NamedTuple):
    """What n readings of one spacing are worth.

    ``mean``    V, the variance of their mean over that of one reading
    ``sample``  expected sample variance over that of one reading, with its degrees of freedom ``dof``
    ``wider``   factor on the standard uncertainty, since r is not known exactly
    """

    mean: float
    sample: float
    dof: float
    wider: float


class SerialCorrelation(NamedTuple):
    """`EffectiveReadings` of the luminance of one step, and of its colour."""

    luminance: EffectiveReadings
    colour: EffectiveReadings


class Serial(NamedTuple):
    """Correlation of readings of luminance (Y) and of colour (X / Y and Z / Y); ``source``: of which readings."""

    luminance: CorrelationCurve
    colour: CorrelationCurve
    source: str

    @property
    def counts(self) -> bool:
        """True when it changes anything."""
        return self.luminance.counts or self.colour.counts

    def of(self, figures: int, spacing_s: float) -> SerialCorrelation:
        """For a step of so many readings, so many seconds from one to the next."""
        light, colour = (effective_readings(one, figures, spacing_s) for one in (self.luminance, self.colour))
        return SerialCorrelation(light, colour)


def effective_readings(curve: CorrelationCurve, n: int, spacing_s: float) -> EffectiveReadings:
    """V, and what follows from it."""
    if n < 2 or spacing_s <= 0.0 or not curve.counts:
        return EffectiveReadings(1.0 / max(n, 1), 1.0, float(max(n - 1, 0)), 1.0)
    every = -(-n // MAX_MATRIX)
    count = -(-n // every)
    lags: Array = np.arange(count, dtype=np.float64) * (spacing_s * every)
    r, u = curve.at(lags)
    matrix = r[np.abs(np.subtract.outer(np.arange(count), np.arange(count)))]
    mean = min(max(float(matrix.mean()), 1.0 / n), MAX_V)
    centred = matrix - matrix.mean(axis=0)[None, :]
    centred = centred - centred.mean(axis=1)[:, None]
    # tr(C R) and tr(C R C R): of C R C, which has both.
    trace, square = float(np.trace(centred)), float((centred * centred).sum())
    weights = 2.0 * (count - np.arange(count)) / count**2 * u
    weights[0] = 0.0
    # Estimates of neighbouring lags err together, about as the readings do.
    u_mean = math.sqrt(max(0.0, float(weights @ matrix @ weights)))
    relative = u_mean / (mean * (1.0 - mean))
    dof = max(1.0, 2.0 / relative**2) if relative > 0.0 else math.inf
    sample = count * (1.0 - mean) / (count - 1)
    return EffectiveReadings(
        mean, sample, min(max(1.0, trace * trace / square), float(n - 1)), coverage_factor(dof) / NORMAL
    )


def from_warm_up(serial: Mapping[str, Any] | None, readings: int) -> Serial | None:
    """From the body of the ``done`` of a warm-up's consecutive readings; None where it holds no correlation."""
    if not serial or not serial.get("luminance"):
        return None
    curves = [
        CorrelationCurve(tuple(Lag(*row) for row in serial.get(name) or serial["luminance"]), readings)
        for name in ("luminance", "colour")
    ]
    return Serial(curves[0], curves[1], f"{readings} consecutive readings at the end of the warm-up")


def unbiased(covariance: Covariance, xyz: Triple, serial: SerialCorrelation) -> Covariance:
    """Sample covariances XX, YY, ZZ, XY, XZ, YZ as independent readings would have them on the average."""
    light, colour = 1.0 / math.sqrt(serial.luminance.sample), 1.0 / math.sqrt(serial.colour.sample)
    x, y, z = xyz
    if min(xyz) <= 0.0:
        larger = max(light, colour) ** 2
        return six([[larger * value for value in row] for row in full(covariance)])
    # Relative: Y, X / Y - Y, Z / Y - Y; scaled; and back.
    to = np.array([[0.0, 1.0 / y, 0.0], [1.0 / x, -1.0 / y, 0.0], [0.0, -1.0 / y, 1.0 / z]])
    back = np.array([[x, x, 0.0], [y, 0.0, 0.0], [z, 0.0, z]]) @ np.diag([light, colour, colour]) @ to
    return six((back @ np.array(full(covariance)) @ back.T).tolist())
