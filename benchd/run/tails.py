"""How a panel's light settles, as a sum of exponentials on a fixed grid of time constants, with what could be hidden.

Readings of a patch over time are L + sum_k A_k R_k mean(exp(-t / tau_k)) + noise: A_k are shares of a step, R_k what
steps (this one and those before it, faded) are there to settle. Least squares over all that was seen, each patch with
an L of its own, so patches are pooled without being compared. Parts are taken up one by one while each is significant
(`benchd.run.selection`); for those that are not, the standard error says what could be hidden. Where the parts do not
explain what was seen, errors and thresholds grow with the misfit (Birge, Phys. Rev. 40, 1932, 207). Pure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from operator import mul
from typing import NamedTuple

from benchd.run.selection import Parts, Selection

TAUS_S = tuple(0.012 * 1.5**power for power in range(18))
"""12 ms to 12 s. Slower change can't be told from drift in a patch's time, and is the drift's business."""
SLOWEST = len(TAUS_S) - 1

HIDDEN = 2.0
"""Standard errors that an unseen part may have; or what it seems to have, where that is more."""
MODEL = 0.03
"""Share of what is left at a moment that the grid and the moment itself are uncertain by."""
LESSONS_MODEL = 0.1
"""The same of what a warm-up taught: changes so unlike in size have not the same shares (limiting, overdrive)."""
AS_WELL = 6.0
"""Misfit (chi-square) that a slower part may add and still be as likely: two and a half standard errors."""
VARIANTS = 4

Vector = list[float]
ONES: tuple[float, ...] = (1.0,) * len(TAUS_S)


class Bin(NamedTuple):
    """The mean of readings that follow each other: beginning and end since the patch was shown, time, luminance."""

    from_s: float
    to_s: float
    took_s: float
    luminance_cd_m2: float


class Curve(NamedTuple):
    """What is known of a settling: parts that were seen, and the standard error of each time constant's part alone.

    ``variants``: the same with a slower last part, as far as the readings allow it; first the likeliest.
    """

    variants: tuple[Parts, ...]
    errors: tuple[float, ...]

    @property
    def parts(self) -> Parts:
        """The likeliest."""
        return self.variants[0]

    def within(self, other: Curve) -> Curve:
        """The same where no part can be larger than the other's, seen or hidden."""
        most = [HIDDEN * error for error in other.errors]
        for index, share in {part for parts in other.variants for part in parts}:
            most[index] = max(most[index], abs(share) + HIDDEN * other.errors[index])
        variants = (
            tuple((index, max(-most[index], min(share, most[index]))) for index, share in parts)
            for parts in self.variants
        )
        return Curve(tuple(variants), tuple(map(min, self.errors, other.errors)))

    def left(self, steps: Sequence[float], from_s: float, to_s: float) -> float:
        """Mean over a window of what is left and was seen, at most; ``steps``: R_k."""
        lasting = means_left(from_s, to_s)
        return max(sum(abs(share * steps[index]) * lasting[index] for index, share in parts) for parts in self.variants)

    def shown(self, from_s: float, to_s: float) -> float:
        """Mean over a window of what is left at least, for steps of one."""
        lasting = means_left(from_s, to_s)
        return min(sum(abs(share) * lasting[index] for index, share in parts) for parts in self.variants)

    def hidden(self, steps: Sequence[float], from_s: float, to_s: float) -> float:
        """Mean over a window of the largest part that could be there and not be seen."""
        lasting = means_left(from_s, to_s)
        return HIDDEN * max(
            [error * abs(step) * left for error, step, left in zip(self.errors, steps, lasting, strict=True) if step],
            default=0.0,
        )


class Sums:
    """Normal equations of the shares."""

    def __init__(self) -> None:
        self.matrix: list[Vector] = [[0.0] * len(TAUS_S) for _ in TAUS_S]
        self.score: Vector = [0.0] * len(TAUS_S)
        self.square = 0.0  # misfit without any part, and its freedom
        self.dof = 0
        self._curve: Curve | None = None

    @classmethod
    def of(cls, bins: Sequence[Bin], per_second: float, model: float = MODEL) -> Sums:
        """From one patch, with the steps in cd/m2 themselves; ``per_second``: variance x time of its readings."""
        sums = cls()
        if len(bins) < 2 or per_second <= 0.0:
            return sums
        late = bins[len(bins) // 2 :]
        end = sum(one.took_s * one.luminance_cd_m2 for one in late) / sum(one.took_s for one in late)
        weights = [1.0 / (per_second / one.took_s + (model * (one.luminance_cd_m2 - end)) ** 2) for one in bins]
        total = sum(weights)
        mean = sum(w * one.luminance_cd_m2 for w, one in zip(weights, bins, strict=True)) / total
        columns = []
        for tau_s in TAUS_S:
            column = [mean_left(tau_s, one.from_s, one.to_s) for one in bins]
            middle = sum(map(mul, weights, column)) / total
            columns.append([value - middle for value in column])
        weighted = [[w * value for w, value in zip(weights, column, strict=True)] for column in columns]
        seen = [one.luminance_cd_m2 - mean for one in bins]
        sums.score = [math.fsum(map(mul, column, seen)) for column in weighted]
        sums.square, sums.dof = sum(w * one * one for w, one in zip(weights, seen, strict=True)), len(bins) - 1
        for k, column in enumerate(weighted):
            for other in range(k + 1):
                sums.matrix[k][other] = sums.matrix[other][k] = sum(map(mul, column, columns[other]))
        return sums

    def with_steps(self, own: Sums, steps: Sequence[float], sign: float) -> Sums:
        """These in shares, and one more patch whose steps were ``steps`` (R_k, positive)."""
        both = Sums()
        both.square, both.dof = self.square + own.square, self.dof + own.dof
        both.score = [mine + sign * r * value for mine, r, value in zip(self.score, steps, own.score, strict=True)]
        both.matrix = [
            [mine + r * other * value for mine, other, value in zip(row, steps, values, strict=True)]
            for row, r, values in zip(self.matrix, steps, own.matrix, strict=True)
        ]
        return both

    @property
    def curve(self) -> Curve:
        """The parts that are seen and what could be hidden."""
        if self._curve is None:
            variants = _variants(self)
            worse = math.sqrt(self.misfit(variants[0]))
            errors = tuple(self._error(k, variants[0], worse) for k in range(len(self.matrix)))
            self._curve = Curve(tuple(variants), errors)
        return self._curve

    def _error(self, k: int, parts: Parts, worse: float) -> float:
        """Standard error of a part alone; more where the readings lean to it without being sure of it."""
        own = self.matrix[k][k]
        if own <= 0.0:
            return math.inf
        error = worse / math.sqrt(own)
        leaning = abs(self.score[k] - sum(self.matrix[k][index] * share for index, share in parts)) / own
        return max(error, leaning / HIDDEN)

    def misfit(self, parts: Sequence[tuple[int, float]]) -> float:
        """Mean square of what the parts do not explain, over noise and model (Birge ratio squared); at least 1."""
        left = self.square - sum(self.score[index] * share for index, share in parts)
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


def mean_left(tau_s: float, from_s: float, to_s: float) -> float:
    """Mean of exp(-t / tau) over a stretch of time."""
    if from_s > 50.0 * tau_s:
        return 0.0
    if to_s - from_s < 1e-9:
        return math.exp(-from_s / tau_s)
    return tau_s * (math.exp(-from_s / tau_s) - math.exp(-to_s / tau_s)) / (to_s - from_s)


@lru_cache(maxsize=64)
def means_left(from_s: float, to_s: float) -> tuple[float, ...]:
    """The same for each time constant."""
    return tuple([mean_left(tau_s, from_s, to_s) for tau_s in TAUS_S])


def binned(readings: Iterable[tuple[float, float, float]], ratio: float = 1.2) -> list[Bin]:
    """Readings (end, time, luminance) as means over stretches that grow with time: no settling is finer than that."""
    bins: list[Bin] = []
    for end_s, took_s, luminance in readings:
        from_s = end_s - took_s
        together = bool(bins) and from_s - bins[-1].to_s < 1e-6  # no pause between
        if together and end_s <= max(ratio * bins[-1].from_s, bins[-1].from_s + 0.06):
            last = bins[-1]
            took = last.took_s + took_s
            mean = (last.took_s * last.luminance_cd_m2 + took_s * luminance) / took
            bins[-1] = Bin(last.from_s, end_s, took, mean)
        else:
            bins.append(Bin(from_s, end_s, took_s, luminance))
    return bins
