"""The course of a reference patch between its readings: a constant, a line or a smoothing spline, as they support it.

Readings y_k at times t_k with standard uncertainties u_k. The curve is f(t) = a + b t + g(t), where g is an integrated
Wiener process of strength q (the smoothing spline of Wahba, "Spline Models for Observational Data", 1990, as a random
process; from memory). Its strength is the one of maximum restricted likelihood, so that the readings decide how
smooth the curve is: without noise it goes through every reading, and through readings on a line it is that line.
What the readings do not support significantly is left out: g and the slope. Once one of them is significant, g has its
most likely strength: a drift that is there bends (a line through four readings of a warming display held 82 %, not 95
%).

Everything is linear in the readings, so every change of the curve comes with its weight on each of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

from benchd.analysis.colour.colorimetry import Array

Model = Literal["constant", "line", "spline"]

SIGNIFICANT = 6.63
"""Twice the logarithm of a ratio of likelihoods that chance exceeds in 1 % of cases: chi-squared, one degree."""
BENDING = 5.41
"""The same where the parameter can't be negative: half of the cases lie at zero (Self and Liang 1987, from memory)."""
STRENGTHS = np.concatenate([10.0 ** np.arange(-4.0, 6.01, 0.25)])
"""Tried for q, in units of the readings' variance over the cube of their spacing."""
SMALLEST_U = 1e-7
"""Relative uncertainty of a reading without noise, so that a matrix can be inverted."""


class Change(NamedTuple):
    """By how much the curve has changed since its start at one moment.

    ``weights``  its sensitivity to each reading        ``between``  standard uncertainty of what happened between them
    """

    change: float
    weights: tuple[float, ...]
    between: float


class ReferenceCurve:
    """The curve through the readings of one session. ``times`` ascending; ``values`` and ``us`` in one unit."""

    def __init__(self, times: Sequence[float], values: Sequence[float], us: Sequence[float], walk: float = 0.0) -> None:
        """``walk``: variance that a random walk adds in one unit of time (`benchd.analysis.drift.reference_walk`).

        Raises ValueError for fewer than two readings, or for times that do not ascend.
        """
        t = np.asarray(times, dtype=float)
        if len(t) < 2 or np.any(np.diff(t) <= 0.0):
            raise ValueError("a curve needs two readings, one after the other")
        self._start, self._span = float(t[0]), float(t[-1] - t[0])
        self._t = (t - t[0]) / self._span
        self._y = np.asarray(values, dtype=float)
        self._u = np.maximum(np.asarray(us, dtype=float), SMALLEST_U * np.abs(self._y).max())
        self._kernel = _kernel(self._t, self._t)
        self._walk = walk * self._span
        self._q = self._strength()
        v = self._kernel * self._q + np.diag(self._u**2)
        h = np.stack([np.ones_like(self._t), self._t], axis=1)
        self._inverse = np.linalg.inv(v)
        self._normal = np.linalg.inv(h.T @ self._inverse @ h)
        self._fit = self._normal @ h.T @ self._inverse  # (a, b) from the readings
        self._rest = self._inverse @ (np.eye(len(t)) - h @ self._fit)
        self._slope, u_slope = float((self._fit @ self._y)[1]), math.sqrt(self._normal[1, 1])
        sloped = self._slope**2 > SIGNIFICANT * u_slope**2
        self.model: Model = "spline" if self._q else "line" if sloped else "constant"

    @property
    def start(self) -> tuple[tuple[float, ...], float]:
        """Level at the first reading's moment: the weights of the readings in it, and its value."""
        weights = 1.0 / self._u**2
        weights = weights / weights.sum() if self.model == "constant" else self._weights(0.0)
        return tuple(weights.tolist()), float(weights @ self._y)

    def change_at(self, time: float) -> Change:
        """The change from the first reading's moment to ``time``, straight on beyond the last."""
        at = (time - self._start) / self._span
        if self.model == "constant":
            # The slope that is there without being significant is not taken out, but counted.
            still = np.zeros(len(self._t))
            between = max(abs(self._slope * at), self._between(still, [at, 0.0], [-1.0, 1.0]))
            return Change(0.0, (0.0,) * len(self._t), between)
        weights = self._weights(at) - self._weights(0.0)
        between = self._between(weights, [at, 0.0], [-1.0, 1.0])
        return Change(float(weights @ self._y), tuple(weights.tolist()), between)

    def level_at(self, time: float) -> Change:
        """The curve itself at ``time``, not its change: for what does not begin where this curve begins."""
        at = (time - self._start) / self._span
        still = self.model == "constant"
        weights = np.array(self.start[0]) if still else self._weights(at)
        between = max(abs(self._slope * at) if still else 0.0, self._between(weights, [at], [-1.0]))
        return Change(float(weights @ self._y), tuple(weights.tolist()), between)

    def _weights(self, at: float) -> Array:
        weights: Array = np.array([1.0, at]) @ self._fit
        if self._q:
            weights = weights + self._q * _kernel(np.array([at]), self._t)[0] @ self._rest
        return weights

    def _between(self, weights: Array, at: Sequence[float], of_at: Sequence[float]) -> float:
        """Standard deviation of the light's own course that the weighted readings miss at the moments ``at``."""
        points, factors = np.concatenate([self._t, at]), np.concatenate([weights, of_at])
        bent = self._q * float(factors @ _kernel(points, points) @ factors) if self._q else 0.0
        walked = self._walk * float(factors @ _walk_kernel(points) @ factors) if self._walk else 0.0
        return math.sqrt(max(0.0, bent, walked))

    def _strength(self) -> float:
        """q of maximum restricted likelihood; 0 where a line is no worse than chance allows."""
        if len(self._t) < 3:
            return 0.0
        spacing = 1.0 / (len(self._t) - 1)
        unit = float(np.mean(self._u**2)) / spacing**3
        straight = self._likelihood(0.0)
        # Readings without noise would ask for ever more: what goes through them within a hundredth is enough.
        found = [(self._likelihood(strength * unit), strength * unit) for strength in STRENGTHS]
        likelihood, q = max(found)
        if likelihood <= straight:
            return 0.0
        return q if 2.0 * (likelihood - straight) > BENDING or self._slopes() else 0.0

    def _slopes(self) -> bool:
        """True when a line alone has a slope beyond chance."""
        weights = 1.0 / self._u**2
        middle = float(weights @ self._t / weights.sum())
        spread = float(weights @ (self._t - middle) ** 2)
        return float(weights @ ((self._t - middle) * self._y)) ** 2 > SIGNIFICANT * spread

    def _likelihood(self, q: float) -> float:
        h = np.stack([np.ones_like(self._t), self._t], axis=1)
        v = self._kernel * q + np.diag(self._u**2)
        solved = np.linalg.solve(v, np.column_stack([h, self._y]))
        normal = h.T @ solved[:, :2]
        ab = np.linalg.solve(normal, h.T @ solved[:, 2])
        residual = self._y - h @ ab
        misfit = float(residual @ (solved[:, 2] - solved[:, :2] @ ab))
        return -0.5 * (misfit + float(np.linalg.slogdet(v)[1]) + float(np.linalg.slogdet(normal)[1]))


def _kernel(left: Array, right: Array) -> Array:
    """Covariance of an integrated Wiener process of strength 1 that starts at 0 with slope 0.

    Before its start it runs the same way backwards, independent of what comes after.
    """
    s, t = np.abs(left)[:, None], np.abs(right)[None, :]
    low, high = np.minimum(s, t), np.maximum(s, t)
    return _on_one_side(left, right, low**2 * (3.0 * high - low) / 6.0)


def _walk_kernel(points: Array) -> Array:
    """Covariance of a Brownian motion of strength 1 that starts at 0, the same way backwards before its start."""
    return _on_one_side(points, points, np.minimum(np.abs(points)[:, None], np.abs(points)[None, :]))


def _on_one_side(left: Array, right: Array, covariance: Array) -> Array:
    """Covariance where both points are after the start, or both before it; else 0."""
    return np.asarray(np.where((left[:, None] >= 0.0) == (right[None, :] >= 0.0), covariance, 0.0))
