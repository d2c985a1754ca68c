"""Least squares of how a panel's light settles (`settling_model`): normal equations, pooled, and what they show.

Loaded where a plan requests a precision; all else need not wait for the numbers' library. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from benchd.run.adaptive.model_selection import Array, Selection
from benchd.run.adaptive.settling_model import HIDDEN, MODEL, OVER_TAUS, TAUS_S, Bin, Parts, SettlingCurve

AS_WELL = 6.0
"""Misfit (chi-square) that a slower part may add and still be as likely: two and a half standard errors."""
VARIANTS = 4
_TAUS = np.array(TAUS_S)


class Sums:
    """Normal equations of the shares."""

    def __init__(self) -> None:
        self.matrix: Array = np.zeros((len(TAUS_S), len(TAUS_S)))
        self.score: Array = np.zeros(len(TAUS_S))
        self.square = 0.0  # misfit without any part, and its freedom
        self.dof = 0
        self._curve: SettlingCurve | None = None

    @classmethod
    def of(cls, bins: Sequence[Bin], per_second: float, model: float = MODEL) -> Sums:
        """From one patch, with the steps in cd/m2 themselves; ``per_second``: variance x time of its readings."""
        sums = cls()
        if len(bins) < 2 or per_second <= 0.0:
            return sums
        from_s, to_s, took_s, luminance = np.array(bins).T
        late = len(bins) // 2
        end = (took_s[late:] * luminance[late:]).sum() / took_s[late:].sum()
        weights = 1.0 / (per_second / took_s + (model * (luminance - end)) ** 2)
        # Each patch has an end of its own: everything is taken from its weighted mean.
        share = weights / weights.sum()
        seen = luminance - (share * luminance).sum()
        columns = _means_left(from_s, to_s)
        columns -= (share[:, np.newaxis] * columns).sum(axis=0)
        rooted = np.sqrt(weights)[:, np.newaxis] * columns
        sums.matrix = (rooted[:, :, np.newaxis] * rooted[:, np.newaxis, :]).sum(axis=0)
        sums.score = (columns * (weights * seen)[:, np.newaxis]).sum(axis=0)
        sums.square, sums.dof = float((weights * seen * seen).sum()), len(bins) - 1
        return sums

    def with_steps(self, own: Sums, steps: Sequence[float], sign: float) -> Sums:
        """These in shares, and one more patch whose steps were ``steps`` (R_k, positive)."""
        both, sizes = Sums(), np.array(steps)
        both.square, both.dof = self.square + own.square, self.dof + own.dof
        both.score = self.score + sign * sizes * own.score
        both.matrix = self.matrix + sizes[:, np.newaxis] * sizes * own.matrix
        return both

    @property
    def curve(self) -> SettlingCurve:
        """The parts that are seen and what could be hidden."""
        if self._curve is None:
            variants = _variants(self)
            worse = math.sqrt(self.misfit(variants[0]))
            self._curve = SettlingCurve(tuple(variants), self._errors(variants[0], worse))
        return self._curve

    def _errors(self, parts: Parts, worse: float) -> tuple[float, ...]:
        """Standard error of each part alone; more where the readings lean to it without being sure of it."""
        own = self.matrix.diagonal()
        told = own > 0.0
        errors = np.full(len(own), math.inf)
        np.divide(worse, np.sqrt(own), out=errors, where=told)
        leaning = self.score.copy()
        for index, share in parts:
            leaning -= share * self.matrix[:, index]
        np.divide(np.abs(leaning) / HIDDEN, own, out=leaning, where=told)
        return tuple(np.where(told, np.maximum(errors, leaning), math.inf).tolist())

    def misfit(self, parts: Sequence[tuple[int, float]]) -> float:
        """Mean square of what the parts do not explain, over noise and model (Birge ratio squared); at least 1."""
        left = self.square - sum(float(self.score[index]) * share for index, share in parts)
        return max(1.0, left / max(1, self.dof - len(parts)))


def _variants(sums: Sums) -> list[Parts]:
    """What was selected; then the same with the slowest part replaced by slower ones that fit about as well."""
    selection = Selection(sums.matrix, sums.score, sums.square, sums.dof)
    selection.select()
    likeliest = selection.parts
    if not likeliest:
        return [likeliest]
    slower = selection.slower(AS_WELL * sums.misfit(likeliest))
    return [likeliest, *slower[:-VARIANTS:-1]]


def _means_left(from_s: Array, to_s: Array) -> Array:
    """`settling_model.mean_left` of each time constant over each stretch: (n,), (n,) -> (n, time constants)."""
    begins, ends = from_s[:, np.newaxis], to_s[:, np.newaxis]
    means: Array = _TAUS * (np.exp(-begins / _TAUS) - np.exp(-ends / _TAUS)) / (ends - begins)
    means[begins > OVER_TAUS * _TAUS] = 0.0
    return means
