"""How a panel's light settles, as a sum of exponentials on a fixed grid of time constants, with what could be hidden.

Readings of a patch over time are L + sum_k A_k R_k mean(exp(-t / tau_k)) + noise: A_k are shares of a step, R_k what
steps (this one and those before it, faded) are there to settle. Least squares over all that was seen, each patch with
an L of its own, so patches are pooled without being compared. Parts are taken up one by one while each is significant
(forward selection); for those that are not, the standard error says what could be hidden. Where the parts do not
explain what was seen, errors and thresholds grow with the misfit (Birge, Phys. Rev. 40, 1932, 207). Pure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

TAUS_S = tuple(0.012 * 1.5**power for power in range(18))
"""12 ms to 12 s. Slower change can't be told from drift in a patch's time, and is the drift's business."""
SLOWEST = len(TAUS_S) - 1

SIGNIFICANT = 3.5
"""Standard errors from which on a part counts as seen; over the whole grid one false alarm in some hundred patches."""
HIDDEN = 2.0
"""Standard errors that an unseen part may have; or what it seems to have, where that is more."""
MODEL = 0.03
"""Share of what is left at a moment that the grid and the moment itself are uncertain by."""
LESSONS_MODEL = 0.1
"""The same of what a warm-up taught: changes so unlike in size have not the same shares (limiting, overdrive)."""
MOST_PARTS = 5
AS_WELL = 6.0
"""Misfit (chi-square) that a slower part may add and still be as likely: two and a half standard errors."""
VARIANTS = 4
CLOSE = 1
"""Steps of the grid within which two parts may not have opposite signs."""

Vector = list[float]
ONES: tuple[float, ...] = (1.0,) * len(TAUS_S)


class Bin(NamedTuple):
    """The mean of readings that follow each other: beginning and end since the patch was shown, time, luminance."""

    from_s: float
    to_s: float
    took_s: float
    luminance_cd_m2: float


Parts = tuple[tuple[int, float], ...]
"""Index of the time constant, share."""


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
        return max(
            sum(abs(share * steps[index]) * mean_left(TAUS_S[index], from_s, to_s) for index, share in parts)
            for parts in self.variants
        )

    def shown(self, from_s: float, to_s: float) -> float:
        """Mean over a window of what is left at least, for steps of one."""
        return min(
            sum(abs(share) * mean_left(TAUS_S[index], from_s, to_s) for index, share in parts)
            for parts in self.variants
        )

    def hidden(self, steps: Sequence[float], from_s: float, to_s: float) -> float:
        """Mean over a window of the largest part that could be there and not be seen."""
        return HIDDEN * max(
            (
                error * abs(step) * mean_left(tau_s, from_s, to_s)
                for error, step, tau_s in zip(self.errors, steps, TAUS_S, strict=True)
                if step
            ),
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
            middle = sum(map(_times, weights, column)) / total
            columns.append([value - middle for value in column])
        weighted = [[w * value for w, value in zip(weights, column, strict=True)] for column in columns]
        seen = [one.luminance_cd_m2 - mean for one in bins]
        sums.score = [math.fsum(map(_times, column, seen)) for column in weighted]
        sums.square, sums.dof = sum(w * one * one for w, one in zip(weights, seen, strict=True)), len(bins) - 1
        for k, column in enumerate(weighted):
            for other in range(k + 1):
                sums.matrix[k][other] = sums.matrix[other][k] = sum(map(_times, column, columns[other]))
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


def _selected(sums: Sums) -> list[tuple[int, float]]:
    """The part that lessens the misfit most, then the next, while each is significant beside what it leaves."""
    matrix, score = sums.matrix, sums.score
    active: list[int] = []
    found: list[float] = []
    for _ in range(MOST_PARTS):
        best, best_gain, best_found = -1, SIGNIFICANT**2, found
        for k in range(len(score)):
            if k in active or matrix[k][k] <= 0.0:
                continue
            # Cheap bound first: what the part would gain if it were independent of the others.
            left = score[k] - sum(matrix[k][index] * share for index, share in zip(active, found, strict=True))
            if not active and left**2 / matrix[k][k] <= best_gain:
                continue
            solved = _solve(matrix, score, [*active, k])
            if solved is None or _undo(active, k, solved):
                continue
            spare = solved[-1] * left
            if spare > best_gain:
                best, best_gain, best_found = k, spare, solved
        if best < 0 or best_gain < SIGNIFICANT**2 * sums.misfit(list(zip([*active, best], best_found, strict=True))):
            break
        active.append(best)
        found = best_found
    return list(zip(active, found, strict=True))


def _variants(sums: Sums) -> list[Parts]:
    """What was selected; then the same with the slowest part replaced by slower ones that fit about as well."""
    matrix, score = sums.matrix, sums.score
    likeliest = _selected(sums)
    found: list[Parts] = [tuple(likeliest)]
    if not likeliest:
        return found
    gain = sum(score[index] * share for index, share in likeliest)
    slowest = max(index for index, _ in likeliest)
    others = [index for index, _ in likeliest if index != slowest]
    as_well = AS_WELL * sums.misfit(likeliest)
    for k in range(slowest + 1, len(score)):
        active = [*others, k]
        solved = _solve(matrix, score, active) if matrix[k][k] > 0.0 else None
        if solved is not None and gain - sum(map(_times, [score[index] for index in active], solved)) <= as_well:
            found.append(tuple(zip(active, solved, strict=True)))
    return [found[0], *found[:-VARIANTS:-1]]


def _undo(active: Sequence[int], k: int, solved: Sequence[float]) -> bool:
    """True when parts of much the same time constant have opposite signs: they fit noise, not light."""
    indices = [*active, k]
    return any(
        abs(one - other) <= CLOSE and solved[at] * solved[to] < 0.0
        for at, one in enumerate(indices)
        for to, other in enumerate(indices[:at])
    )


def _solve(matrix: Sequence[Vector], score: Vector, active: Sequence[int]) -> list[float] | None:
    size = len(active)
    scales = [math.sqrt(matrix[k][k]) for k in active]
    rows = [
        [*(matrix[k][other] / (one * two) for other, two in zip(active, scales, strict=True)), score[k] / one]
        for k, one in zip(active, scales, strict=True)
    ]
    for column in range(size):
        pivot = rows[column][column]
        if pivot < 1e-7:
            return None
        for below in range(column + 1, size):
            factor = rows[below][column] / pivot
            for index in range(column, size + 1):
                rows[below][index] -= factor * rows[column][index]
    values = [0.0] * size
    for column in range(size - 1, -1, -1):
        rest = sum(rows[column][index] * values[index] for index in range(column + 1, size))
        values[column] = (rows[column][size] - rest) / rows[column][column]
    return [value / scale for value, scale in zip(values, scales, strict=True)]


def mean_left(tau_s: float, from_s: float, to_s: float) -> float:
    """Mean of exp(-t / tau) over a stretch of time."""
    if from_s > 50.0 * tau_s:
        return 0.0
    if to_s - from_s < 1e-9:
        return math.exp(-from_s / tau_s)
    return tau_s * (math.exp(-from_s / tau_s) - math.exp(-to_s / tau_s)) / (to_s - from_s)


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


def _times(one: float, other: float) -> float:
    return one * other
