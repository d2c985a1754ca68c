"""Lengths of many vectors with drawn errors, for many factors of the vectors: the work of `uncertainty.cloud`.

The square of a length is f^2 v.v + 2 f v.e + e.e: the products are formed once, and each factor f costs one sum.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.distributions import t_quantile

TAIL = 0.025
"""Of each side of an interval of 95 %."""


FEW = 4
"""Vectors whose lengths with all factors fit the processor's cache at once."""


class Drawn:
    """Vectors (n, components) and errors (draws, n, components)."""

    __slots__ = ("_alone", "_mixed", "_squared", "values")

    def __init__(self, values: Array, noise: Array) -> None:
        self.values = values
        self._squared = np.einsum("ni,ni->n", values, values)
        self._mixed = 2.0 * sum(values[:, i] * noise[:, :, i] for i in range(values.shape[1]))
        self._alone = sum(noise[:, :, i] ** 2 for i in range(values.shape[1]))

    def at_least(self, factors: Array) -> Array:
        """Shares (m, n) of draws in which each vector, times its ``factors`` (m, n), is as long as without errors."""
        if len(self.values) <= FEW:
            long = factors[:, None] * self._mixed + self._alone >= ((1.0 - factors * factors) * self._squared)[:, None]
            return np.asarray(long.mean(axis=1))
        each = (f * self._mixed + self._alone >= (1.0 - f * f) * self._squared for f in factors)
        return np.array([long.mean(axis=0) for long in each])

    def longest(self, factors: Array) -> Iterator[Array]:
        """The largest length (draws,) of all vectors, for each of ``factors``."""
        for factor in factors:
            squares = factor * factor * self._squared + factor * self._mixed + self._alone
            yield np.sqrt(np.maximum(squares.max(axis=-1), 0.0))


def of_sorted(lengths: Array, name: str) -> Array:
    """Mean, median, 95th percentile (linear between ranks) or maximum of sorted lengths (..., n)."""
    if name == "mean":
        return np.asarray(lengths.mean(axis=-1))
    last = lengths.shape[-1] - 1
    place = last * {"median": 0.5, "percentile_95": 0.95, "max": 1.0}[name]
    below = int(place)
    share = place - below
    found = (1.0 - share) * lengths[..., below] + share * lengths[..., min(below + 1, last)]
    return np.asarray(found)


class PutBack(NamedTuple):
    """Figures (n,) as they were read, and quantiles of what is drawn about them and of what errors alone would read.

    What is drawn about a reading is longer than the truth just as the reading is: it is put back until its median is
    what was read. Where errors alone would read as much in more than 2.5 % of draws, the interval begins at 0.
    """

    read: Array
    low: Array
    middle: Array
    high: Array
    limit: Array

    @classmethod
    def of(cls, drawn: Array, read: Array, alone: Array) -> PutBack:
        """From draws (n, draws) about what was read (n,), and of errors alone (n, draws)."""
        (limit,) = _quantiles(alone, (1.0 - TAIL,))
        low, middle, high = _quantiles(drawn, (TAIL, 0.5, 1.0 - TAIL))
        return cls(read, low, middle, high, limit)

    def intervals(self, lowest: Array | float = 0.0) -> list[tuple[float, float]]:
        """Both ends of each figure; none begins below ``lowest`` (n,)."""
        shift = self.read - self.middle
        # Near zero the upper end stays where it was drawn: put back, it would be too low.
        near = self.read <= self.limit
        low = np.maximum(np.where(near, 0.0, self.low + shift), lowest)
        high = np.where(near, self.high, self.high + shift)
        return list(zip(low.tolist(), np.maximum(high, low).tolist(), strict=True))

    def together(self, dof: float) -> Array:
        """Lower ends (n,) that all hold at once in 98.75 %: each fails in its share of the rest (Bonferroni).

        They stand beside an interval of the whole, so that they take half of what one end may fail in.

        What is far out in the draws is taken from Student's t with ``dof`` degrees of freedom, by which they are wide.
        """
        level, nu = 1.0 - 0.5 * TAIL / len(self.read), max(1, math.floor(min(dof, 1e5)))
        wider = t_quantile(level, nu) / t_quantile(1.0 - TAIL, nu)
        low = np.maximum(self.read - wider * (self.middle - self.low), 0.0)
        return np.asarray(np.where(self.read <= wider * self.limit, 0.0, low))


def whole_intervals(
    drawn: Array, read: Array, alone: Array, dof: float, wholes: Sequence[str]
) -> dict[str, tuple[float, float]]:
    """The intervals of several ``wholes`` of lengths (see `of_sorted`), from draws as of `PutBack.of`."""
    # No average or maximum is less than that of lengths which are all exceeded.
    exceeded = np.sort(PutBack.of(drawn, read, alone).together(dof))
    ranked = [np.sort(one.T, axis=-1) for one in (drawn, read, alone)]
    found = PutBack.of(*(np.stack([of_sorted(one, name) for name in wholes]) for one in ranked))
    lowest = np.array([float(of_sorted(exceeded, name)) for name in wholes])
    return dict(zip(wholes, found.intervals(lowest), strict=True))


def _quantiles(values: Array, levels: Sequence[float]) -> list[Array]:
    """Quantiles along the last axis, linear between ranks, by one partial sort."""
    places = [level * (values.shape[-1] - 1) for level in levels]
    ranks = sorted({rank for place in places for rank in (math.floor(place), math.ceil(place))})
    parted = np.partition(values, ranks, axis=-1)
    found = []
    for place in places:
        below = math.floor(place)
        share = place - below
        found.append((1.0 - share) * parted[..., below] + share * parted[..., math.ceil(place)])
    return found


def quantile(values: Array, level: float, axis: int = -1) -> Array:
    """`numpy.quantile` to the last bit, without the masked arrays that its first call imports, which takes 12 ms."""
    last = values.shape[axis] - 1
    place = level * last
    below = math.floor(place)
    share, above = place - below, min(below + 1, last)
    parted = np.partition(values, sorted({below, above, last}), axis=axis)
    first, second, largest = (parted.take(rank, axis) for rank in (below, above, last))
    step = second - first
    found = first + step * share if share < 0.5 else second - step * (1.0 - share)
    return np.asarray(np.where(np.isnan(largest), largest, found))  # what is not a number ranks last


def long_pairs(values: Array, noise: Array) -> tuple[Array, Array]:
    """Rows (two of shape (pairs,)) whose difference may be the longest, whatever was drawn.

    ``values`` (rows, components), ``noise`` (draws, rows, components). Most pairs of a grid are far from it, and the
    errors of them all are millions of numbers.
    """
    first, second = np.triu_indices(len(values), 1)
    lengths = np.sqrt(((values[first] - values[second]) ** 2).sum(axis=-1))
    reach = 2.0 * np.sqrt((noise**2).sum(axis=-1)).max(axis=0)  # twice the farthest draw: six standard deviations
    most = reach[first] + reach[second]
    kept = lengths + most >= (lengths - most).max()
    return first[kept], second[kept]
