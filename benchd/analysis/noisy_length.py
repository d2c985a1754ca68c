"""Lengths of many vectors with drawn errors, for many factors of the vectors: the work of `benchd.analysis.cloud`.

The square of a length is f^2 v.v + 2 f v.e + e.e: the products are formed once, and each factor f costs one sum.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from benchd.analysis import colour

Array = colour.Array


class Drawn:
    """Vectors (n, components) and errors (draws, n, components)."""

    __slots__ = ("_alone", "_mixed", "_squared", "values")

    def __init__(self, values: Array, noise: Array) -> None:
        self.values = values
        self._squared = np.einsum("ni,ni->n", values, values)
        self._mixed = 2.0 * sum(values[:, i] * noise[:, :, i] for i in range(values.shape[1]))
        self._alone = sum(noise[:, :, i] ** 2 for i in range(values.shape[1]))

    def at_least(self, factor: Array) -> Array:
        """The share (n,) of draws in which each vector, times its ``factor`` (n,), is as long as without errors."""
        long = factor * self._mixed + self._alone >= (1.0 - factor * factor) * self._squared
        return np.asarray(long.mean(axis=0))

    def lengths(self, factors: Array) -> Iterator[Array]:
        """Sorted lengths (draws, n) of all vectors, for each of ``factors``."""
        for factor in factors:
            squares = factor * factor * self._squared + factor * self._mixed + self._alone
            yield np.sort(np.sqrt(np.maximum(squares, 0.0)), axis=-1)


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
