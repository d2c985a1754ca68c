"""Least squares of how a panel's light settles (`settling_model`): which parts are there, and what they show.

Selection: one part after the other is taken up, each time the one that lessens the misfit most, while it is
significant. The first that are taken stand for all that are not yet there, so one may come out too slow, and then a
slower one of the opposite sign would make up for it: light that swings over where none does, and that is waited for. So
before a part of another sign is taken up, those that are there may change places with others (stepwise selection after
Efroymson 1960), and it must be clearer than the rest. Sweeping (Goodnight, Am. Stat. 33, 1979, 149) gives for all
others at once what they would gain, and undoes itself.

Loaded where a plan requests a precision; all else need not wait for the numbers' library. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchd.run.adaptive.settling_model import HIDDEN, MODEL, OVER_TAUS, TAUS_S, Bin, Parts, SettlingCurve

SIGNIFICANT = 3.5
"""Standard errors from which on a part counts as seen; over the whole grid one false alarm in some hundred patches."""
SWINGS = 5.0
"""The same for a part of another sign, which more often makes up for what no time constant of the grid fits well."""
MAX_PARTS = 5
CLOSE = 1
"""Steps of the grid within which two parts may not have opposite signs: they would fit noise, not light."""
MIN_PIVOT = 1e-7
"""Share of a part that the others can't stand for, below which it can't be distinguished from them."""
BETTER = 0.01
"""Misfit (chi-square) that an exchange must take away."""
MAX_EXCHANGES = 12

Array = NDArray[np.float64]


class Selection:
    """Normal equations, scaled to a diagonal of ones and swept by the parts that were taken up."""

    def __init__(self, matrix: Array, score: Array, square: float, dof: int) -> None:
        """``matrix`` (n, n), ``score`` (n,); ``square``, ``dof``: misfit (chi-square) without any part, its freedom."""
        n = len(score)
        self._scales = np.sqrt(matrix.diagonal())
        inverse = np.divide(1.0, self._scales, out=np.zeros(n), where=self._scales > 0.0)
        self._rows = np.empty((n, n + 1))  # the last column is the score
        self._rows[:, :n] = matrix * inverse[:, np.newaxis] * inverse
        self._rows[:, n] = score * inverse
        self._left, self._dof = square, dof
        self._active: list[int] = []

    @property
    def parts(self) -> Parts:
        """Those that were taken up."""
        return tuple((k, float(self._rows[k, -1] / self._scales[k])) for k in self._active)

    def select(self) -> None:
        """Take up all parts that are there."""
        while len(self._active) < MAX_PARTS:
            if (best := self._significant(SIGNIFICANT, swings=False)) is None:
                if (best := self._significant(SWINGS, swings=True)) is None:
                    return
                if self._exchange():
                    continue
            self._take_up(best)

    def _significant(self, errors: float, *, swings: bool) -> int | None:
        if (best := self._best(errors**2, swings=swings)) is None:
            return None
        gain = self._gain(best)
        misfit = max(1.0, (self._left - gain) / max(1, self._dof - len(self._active) - 1))
        return best if gain >= errors**2 * misfit else None

    def slower(self, most: float) -> list[Parts]:
        """The parts with the slowest replaced by a slower one, wherever that adds at most ``most`` to the misfit."""
        slowest = max(self._active)
        self._put_back(slowest)
        own, found = self._gain(slowest), []
        for k in range(slowest + 1, len(self._rows)):
            if self._rows[k, k] >= MIN_PIVOT and own - self._gain(k) <= most:
                shares = self._shares_with(k)
                found.append(tuple((index, share / float(self._scales[index])) for index, share in shares))
        self._take_up(slowest)
        return found

    def _exchange(self) -> bool:
        """Let parts change places while that lessens the misfit; true when one did."""
        for exchanges in range(MAX_EXCHANGES):
            changed = False
            for k in sorted(self._active):
                self._put_back(k)
                best = self._best(self._gain(k) + BETTER, swings=False)
                changed = changed or best is not None
                self._take_up(k if best is None else best)
            if not changed:
                return exchanges > 0
        return False

    def _best(self, more_than: float, *, swings: bool) -> int | None:
        """The part that gains most, and more than that, without having the opposite sign of one close to it.

        ``swings``: or the opposite sign of any other.
        """
        pivots, scores = self._rows.diagonal(), self._rows[:, -1]
        free = pivots >= MIN_PIVOT
        free[self._active] = False
        gains = np.zeros(len(pivots))
        np.divide(scores * scores, pivots, out=gains, where=free)
        for k in np.argsort(-gains, kind="stable").tolist():
            if gains[k] <= more_than:
                return None
            shares = self._shares_with(k)
            if not _fights(shares) and (swings or not _swings(shares)):
                return int(k)
        return None

    def _gain(self, k: int) -> float:
        """Misfit that a part would take away."""
        return float(self._rows[k, -1]) ** 2 / float(self._rows[k, k])

    def _shares_with(self, k: int) -> list[tuple[int, float]]:
        """Scaled shares, were ``k`` taken up."""
        share = float(self._rows[k, -1] / self._rows[k, k])
        others = [(index, float(self._rows[index, -1] - self._rows[index, k] * share)) for index in self._active]
        return [*others, (k, share)]

    def _take_up(self, k: int) -> None:
        self._left -= self._gain(k)
        self._active.append(k)
        self._sweep(k)

    def _put_back(self, k: int) -> None:
        self._active.remove(k)
        self._sweep(k)
        self._left += self._gain(k)

    def _sweep(self, k: int) -> None:
        """Solve for ``k``; a second time undoes it."""
        rows = self._rows
        pivot = float(rows[k, k])
        own = rows[k] / pivot
        own[k] = 1.0 / pivot
        factors = rows[:, k].copy()
        rows -= factors[:, np.newaxis] * own
        rows[:, k] = factors / -pivot
        rows[k] = own


def _swings(shares: Sequence[tuple[int, float]]) -> bool:
    """True when there are parts of both signs: light that swings over, or one part that makes up for another."""
    return min(share for _, share in shares) < 0.0 < max(share for _, share in shares)


def _fights(shares: Sequence[tuple[int, float]]) -> bool:
    """True when parts of much the same time constant have opposite signs."""
    return any(
        abs(one - other) <= CLOSE and share * against < 0.0
        for at, (one, share) in enumerate(shares)
        for other, against in shares[:at]
    )


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
        known = own > 0.0
        errors = np.full(len(own), math.inf)
        np.divide(worse, np.sqrt(own), out=errors, where=known)
        leaning = self.score.copy()
        for index, share in parts:
            leaning -= share * self.matrix[:, index]
        np.divide(np.abs(leaning) / HIDDEN, own, out=leaning, where=known)
        return tuple(np.where(known, np.maximum(errors, leaning), math.inf).tolist())

    def misfit(self, parts: Sequence[tuple[int, float]]) -> float:
        """Mean square of what the parts do not explain, over noise and model (Birge ratio squared); at least 1."""
        left = self.square - sum(float(self.score[index]) * share for index, share in parts)
        return max(1.0, left / max(1, self.dof - len(parts)))


def _variants(sums: Sums) -> list[Parts]:
    """What was selected; then the same with the slowest part replaced by slower ones that fit about as well."""
    selection = Selection(sums.matrix, sums.score, sums.square, sums.dof)
    selection.select()
    if not (likeliest := selection.parts):
        return [likeliest]
    return [likeliest, *selection.slower(AS_WELL * sums.misfit(likeliest))[:-VARIANTS:-1]]


def _means_left(from_s: Array, to_s: Array) -> Array:
    """`settling_model.mean_left` of each time constant over each stretch: (n,), (n,) -> (n, time constants)."""
    begins, ends = from_s[:, np.newaxis], to_s[:, np.newaxis]
    means: Array = _TAUS * (np.exp(-begins / _TAUS) - np.exp(-ends / _TAUS)) / (ends - begins)
    means[begins > OVER_TAUS * _TAUS] = 0.0
    return means
