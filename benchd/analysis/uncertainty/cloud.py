"""Distances and extremes with an interval that is true near zero, where JCGM 100 alone is wrong.

A colour difference is a length. Its reading is the length of (true difference + error), so near zero it is too
large on average, its distribution is not symmetrical, and a sensitivity to each part does not exist. The same holds
for the largest of several deviations and for the range of several readings. Here all of them are one thing: a
*cloud*, rows of components that are linear in the sources of uncertainty, and a function of the cloud.

The published value is the raw one, as its formula gives it; it is not corrected for its bias. The interval of a
length and of an extreme is found by asking which truths would read so: the cloud is shrunk and stretched by a factor,
seeded errors are drawn from the sources and carried through the function (JCGM 101:2008), and the interval holds all
factors for which the value that was read is neither among the 2.5 % lowest nor the 2.5 % highest. For one vector with
equal errors in all directions this is the interval of the noncentral chi distribution (checked by tests). A reading
that noise alone would give has the lower end 0.

An average of many lengths has no such family of truths: most of them share one error, and some are near zero when
others are not. Its interval is what the function gives for truths drawn about the reading (`noisy_length.PutBack`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.uncertainty.draws import DRAWS, FigureSources, Normal, widened
from benchd.analysis.uncertainty.noisy_length import TAIL, Drawn, PutBack, long_pairs, quantile, whole_intervals
from benchd.analysis.uncertainty.sources import (
    Contributions,
    Node,
    Source,
    Stated,
    effective_dof,
)

Array: TypeAlias = colour.Array
Whole = Literal["mean", "median", "percentile_95", "max", "range", "pair"]
AVERAGES: tuple[Whole, ...] = ("mean", "median", "percentile_95")

REACH = 6.0
PICKED, PICKED_PAIR = 1.0, 9.0
"""How many variances of the noise in a gap to the longest row are taken out of its square; for pairs.

1 is their mean. Of the many pairs all within three standard deviations count as equally long (found by the coverage
study, with other seeds than those of its table)."""
STEPS_OF_U = (-6.0, -4.0, -3.0, -2.5, -2.0, -1.6, -1.2, -0.8, 0.0, 0.8, 1.2, 1.6, 2.0, 2.5, 3.0, 4.0, 6.0)
"""Factors that are tried, in standard uncertainties of the figure from the factor 1."""
ALONE = FigureSources(DRAWS)


class Cloud:
    """Rows of components, each with the node of its uncertainty.

    ``values`` (rows, components). Lengths are taken from zero; "range" (one component) and "pair" compare rows with
    each other. Intervals are computed for all functions at the first one that is needed.
    """

    def __init__(self, values: Any, nodes: Sequence[Sequence[Node]]) -> None:
        self.values: Array = np.asarray(values, dtype=np.float64).reshape(len(nodes), -1)
        self.nodes = tuple(tuple(row) for row in nodes)
        self._found: dict[str, tuple[float, float]] = {}

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Cloud):
            return NotImplemented
        return bool(np.array_equal(self.values, other.values)) and self.nodes == other.nodes

    def __hash__(self) -> int:
        return hash(self.values.tobytes())

    def row(self, index: int) -> OfCloud:
        """The length of one row."""
        return OfCloud(self, index)

    def picked(self, rows: Sequence[int]) -> Cloud:
        """Some of its rows."""
        return Cloud(self.values[list(rows)], [self.nodes[row] for row in rows])

    def over(self, whole: Whole, scale: Scale = "as it is", factor: float = 1.0) -> OfCloud:
        """A function of all rows."""
        return OfCloud(self, whole, scale, factor)

    @cached_property
    def loads(self) -> tuple[list[Source], Array] | None:
        """Sources, and their contributions to each component (rows, components, sources); None if one is unknown."""
        found = [[node.contributions() for node in row] for row in self.nodes]
        if any(one is None for row in found for one in row):
            return None
        sources: dict[Source, int] = {}
        amounts = [
            (i, j, sources.setdefault(source, len(sources)), amount)
            for i, row in enumerate(found)
            for j, one in enumerate(row)
            for source, amount in (one or {}).items()
        ]
        array = np.zeros((*self.values.shape, len(sources)))
        for i, j, source, amount in amounts:
            array[i, j, source] = amount
        return list(sources), array

    def linear(self, which: Whole | int) -> Contributions | None:
        """Contributions to the function as if it were linear where it was read: for the budget and for comparisons."""
        if self.loads is None:
            return None
        sources, array = self.loads
        size = float(np.abs(self.values).max(initial=0.0)) or 1.0
        # A difference wide against rounding and narrow against curvature, along each source in turn.
        reach = np.sqrt((array**2).sum(axis=(0, 1)))
        h = 1e-5 * size / np.where(reach > 0.0, reach, 1.0)
        moved = np.moveaxis(array, -1, 0) * h[:, None, None]
        up, down = _function(self.values + moved, which), _function(self.values - moved, which)
        return dict(zip(sources, ((up - down) / (2.0 * h)).tolist(), strict=True))

    def interval(self, which: Whole | int) -> tuple[float, float] | None:
        """Both ends of the interval of 95 % of a function; None where a source is not known."""
        loads = self.loads
        if loads is None:
            return None
        if not loads[1].any():
            return self.read(which), self.read(which)
        key = str(which)
        if key not in self._found:
            if isinstance(which, int):
                ends = _row_ends(self.values, self._noise(loads))
                self._found |= {str(row): found for row, found in enumerate(ends)}
            elif which in AVERAGES:
                noise = self._noise(loads)
                drawn, read, alone = (_lengths(one) for one in (self.values - noise, self.values, noise))
                self._found |= whole_intervals(drawn.T, read, alone.T, dof_of(loads), AVERAGES)
            else:
                self._extreme(loads, which)
        return self._found[key]

    def _extreme(self, loads: tuple[list[Source], Array], which: Whole) -> None:
        """The largest length of all rows, or of all differences of two rows.

        The lower end supposes that rows that may be equally long compete, which lifts what is read; it is not below
        that of a row which is long whatever the others are, each taken for its share of the errors. The upper end is
        the highest of each row's own: the row that is truly the longest exceeds its own seldom enough. The largest of
        all pairs is no less than the largest distance from a row without errors, which the others are held against.
        """
        # What all rows share drops out of differences, and of their degrees of freedom.
        noise, values = self._noise(loads, apart=which != "max"), self.values
        calm = _with_bounded_errors(values, noise)
        if which != "max":
            first, second = long_pairs(values, noise)
            values, calm = (one[first] - one[second] for one in (values, calm))
            noise = _of_rows(noise, first) - _of_rows(noise, second)
        near = _contenders(values, noise)
        values, calm, noise = values[near], calm[near], _of_rows(noise, near)
        top = int(np.argmax(_lengths(values)))
        low = _competing(values[top], calm, noise, top, PICKED_PAIR if which == "pair" else PICKED)
        low = max(low, float(_exceeded(values, noise, dof_of(loads)).max()))
        high = max(high for _, high in _row_ends(values, noise))
        if which == "pair" and not loads[1].any(axis=(1, 2)).all():
            held_against = self.interval("max") or (0.0, 0.0)
            low, high = max(low, held_against[0]), max(high, held_against[1])
        self._found[which] = min(low, high), high

    def moved(self, which: Whole | int, normal: Normal) -> Array | None:
        """What the function may truly be (draws,) when errors are drawn about what was read; None: not known."""
        if self.loads is None:
            return None
        return _function(self.values - self._noise(self.loads, normal, apart=which in ("range", "pair")), which)

    def read(self, which: Whole | int) -> float:
        """The function of what was read."""
        return float(_function(self.values, which))

    def _noise(self, loads: tuple[list[Source], Array], normal: Normal = ALONE, *, apart: bool = False) -> Array:
        """Drawn errors (draws, rows, components), each draw with its mirror image.

        Scaled by Student's factor over the normal one where the noise itself is poorly known.
        """
        sources, array = loads
        if apart:
            array = array - array.mean(axis=0)
        drawn = np.tensordot(normal.of(sources), array, axes=([1], [2]))
        return np.asarray(drawn * widened(dof_of((sources, array))), dtype=np.float64)


def dof_of(loads: tuple[list[Source], Array]) -> float:
    """Effective degrees of freedom of all rows together."""
    sources, array = loads
    sizes = np.sqrt((array**2).sum(axis=(0, 1)))
    return effective_dof(dict(zip(sources, sizes.tolist(), strict=True)))


Scale = Literal["as it is", "exp of minus", "1 minus exp of minus"]


class OfCloud(NamedTuple):
    """A function of a cloud as the node of a figure: a whole or the number of a row.

    ``scale`` and ``factor`` make the figure from the function: as it is, exp(-f) for a ratio whose logarithm it is,
    or 1 - exp(-f); then times ``factor``.
    """

    cloud: Cloud
    which: Whole | int
    scale: Scale = "as it is"
    factor: float = 1.0

    def contributions(self) -> Contributions | None:
        """As if it were linear where it was read."""
        if (found := self.cloud.linear(self.which)) is None:
            return None
        slope = self.factor
        if self.scale != "as it is":
            read = math.exp(-float(_function(self.cloud.values, self.which)))
            slope *= -read if self.scale == "exp of minus" else read
        return {source: slope * amount for source, amount in found.items()}

    def stated(self, value: float) -> Stated | None:
        """Half the width of the interval, and the interval; k is not defined."""
        if (ends := self.cloud.interval(self.which)) is None:
            return None
        low, high = sorted(self._figure(end) for end in ends)
        return Stated((high - low) / 2.0, None, math.inf, min(low, value), max(high, value))

    def moved(self, normal: Normal) -> Array | None:
        """What the figure may truly be, less what was read (draws,); see `benchd.analysis.uncertainty.draws`."""
        if (drawn := self.cloud.moved(self.which, normal)) is None:
            return None
        return np.array([self._figure(one) for one in drawn.tolist()]) - self.read

    @property
    def edge(self) -> float:
        """The figure of no distance at all."""
        return self._figure(0.0)

    @property
    def read(self) -> float:
        """The figure as it was read."""
        return self._figure(self.cloud.read(self.which))

    def _figure(self, of: float) -> float:
        if self.scale == "as it is":
            return self.factor * of
        return self.factor * (math.exp(-of) if self.scale == "exp of minus" else -math.expm1(-of))


def _lengths(cloud: Array) -> Array:
    if cloud.shape[-1] == 1:
        return np.asarray(np.abs(cloud[..., 0]), dtype=np.float64)
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", cloud, cloud)), dtype=np.float64)


def _function(cloud: Array, which: Whole | int) -> Array:
    """A function of clouds (..., rows, components)."""
    if which == "range":
        return np.asarray(np.ptp(cloud[..., 0], axis=-1))
    if which == "pair":
        longest = np.zeros(cloud.shape[:-2])
        for i in range(1, cloud.shape[-2]):
            longest = np.maximum(longest, _lengths(cloud[..., i:, :] - cloud[..., :-i, :]).max(axis=-1))
        return longest
    if isinstance(which, int):
        return _lengths(cloud[..., which, :])
    return of_lengths(_lengths(cloud), which)


def of_lengths(lengths: Array, which: Whole) -> Array:
    """Mean, median, 95th percentile (linear between ranks) or maximum of lengths (..., n)."""
    if which == "mean":
        return np.asarray(lengths.mean(axis=-1))
    if which == "max":
        return np.asarray(lengths.max(axis=-1))
    return quantile(lengths, 0.5 if which == "median" else 0.95)


def _of_rows(noise: Array, rows: Any) -> Array:
    """``noise[:, rows]`` row by row, so that most of it is copied in long pieces."""
    return np.asarray(np.ascontiguousarray(noise.swapaxes(0, 1)).take(rows, axis=0).swapaxes(0, 1))


def _row_ends(values: Array, noise: Array) -> list[tuple[float, float]]:
    """The interval of the length of each row alone."""
    read = _lengths(values)
    factors = _factors(np.sqrt((noise**2).mean(axis=0).sum(axis=-1)), read)
    shares = Drawn(values, noise).at_least(factors)
    alone = quantile(_lengths(noise), 1.0 - TAIL, axis=0).tolist()
    z = _scale_of(shares, len(noise))
    exact: Array = np.logical_not(noise.any(axis=(0, 2)))
    several = zip(read.tolist(), alone, exact.tolist(), strict=True)
    return [_ends(factors[:, i], z[:, i], *one) for i, one in enumerate(several)]


def _exceeded(values: Array, noise: Array, dof: float) -> Array:
    """Lengths (rows,) that the true ones all exceed, in 98.75 %: some rows are known where others are noise."""
    drawn, read, alone = (_lengths(one) for one in (values - noise, values, noise))
    return PutBack.of(drawn.T, read, alone.T).together(dof)


def _contenders(values: Array, noise: Array) -> Any:
    """Which rows may be the longest: those within a few standard deviations of the longest that was read."""
    lengths = _lengths(values)
    top = int(np.argmax(lengths))
    around = np.sqrt(((noise - noise[:, top : top + 1]) ** 2).mean(axis=0).sum(axis=-1))
    return np.flatnonzero(lengths >= lengths[top] - REACH * around)


def _with_bounded_errors(values: Array, noise: Array) -> Array:
    """The rows drawn together about their middle until their spread is what is left without the noise of each.

    Rows lie farther apart as they are read than they are (constrained empirical Bayes; Louis, J. Am. Stat. Assoc. 79
    (1984) 393, from memory).
    """
    middle = values.mean(axis=0)
    apart = noise - noise.mean(axis=1, keepdims=True)
    spread, own = float(((values - middle) ** 2).sum()), float((apart**2).mean(axis=0).sum())
    kept = math.sqrt(max(0.0, 1.0 - own / spread)) if spread > 0.0 else 0.0
    return np.asarray(middle + kept * (values - middle), dtype=np.float64)


def _competing(longest: Array, calm: Array, noise: Array, top: int, picked: float) -> float:
    """The lower end of the largest length where the row ``longest``, number ``top``, was the longest of several."""
    read = np.array([float(_lengths(longest))])
    shape = _levelled(calm, noise, picked)
    true = float(_lengths(shape).max())
    if not true:  # all of it may be noise
        return 0.0
    u = np.array([float(np.std(_lengths(longest + noise[:, top])))])
    factors = _factors(u, read)[:, 0] * (float(read[0]) / true)
    shares = np.array([(longest >= read[0]).mean() for longest in Drawn(shape, noise).longest(factors)])
    alone = float(quantile(_function(noise, "max"), 1.0 - TAIL))
    return _ends(factors, _scale_of(shares, len(noise)), true, alone, not noise.any())[0]


def _levelled(values: Array, noise: Array, picked: float) -> Array:
    """The rows with lengths as they may be without the noise of the rows: nearer to the longest than they were read.

    The gap between the longest that was read and another one is too wide on average: its mean square is the square of
    the true gap and ``picked`` times the variance of the noise in it. That is taken out, so that rows
    that are not distinguishable count as equally long; else the longest would be trusted too far.
    """
    lengths = _lengths(values)
    top = int(np.argmax(lengths))
    if not lengths[top]:
        return values
    along = np.einsum("dri,ri->dr", noise, values / np.where(lengths > 0.0, lengths, 1.0)[:, None])
    own = ((along - along[:, top : top + 1]) ** 2).mean(axis=0)
    gap = np.sqrt(np.maximum((lengths[top] - lengths) ** 2 - picked * own, 0.0))
    stretch = (lengths[top] - gap) / np.where(lengths > 0.0, lengths, 1.0)
    return np.asarray(values * stretch[:, None], dtype=np.float64)


def _factors(u: Array, read: Array) -> Array:
    """Factors to try (steps, figures): about 1, as far as the uncertainty reaches, and 0."""
    size = np.where(read > 0.0, u / np.where(read > 0.0, read, 1.0), 0.0)
    around = 1.0 + np.array(STEPS_OF_U)[:, None] * size
    return np.concatenate([np.zeros((1, len(read))), np.maximum(around, 0.0)])


def _ends(factors: Array, z: Array, read: float, alone: float, exact: bool) -> tuple[float, float]:
    """The two factors at which what was read is too high or too low to be believed, times what was read.

    ``z`` is `_scale_of` the shares of draws that read as much, ``alone`` what errors alone read in 97.5 % of draws.
    That may be true behind any reading: the upper end is not below it. Of a reading shorter than errors alone nearly
    always give no factor is believed: the interval would end at the reading.
    """
    if exact:
        return read, read
    if read <= 0.0:
        return 0.0, alone
    low = 0.0 if z[0] >= _LOW else float(np.interp(_LOW, z, factors))
    high = float(np.interp(_HIGH, z, factors))
    return low * read, max(high * read, alone)


def _scale_of(shares: Array, draws: int) -> Array:
    """Shares of ``draws``, for each factor tried (first axis), on the scale of `_probit`: they only grow."""
    smallest = 0.5 / draws
    return np.asarray(np.maximum.accumulate(_probit(np.clip(shares, smallest, 1.0 - smallest)), axis=0))


def _probit(p: Any) -> Any:
    """A scale near the standard normal quantile, on which shares are interpolated between tried factors.

    Hastings' (Abramowitz and Stegun 1964, 26.2.23), good to 4.5e-4, for whole arrays: published intervals rest on it.
    """
    p = np.asarray(p, dtype=np.float64)
    q = np.minimum(p, 1.0 - p)
    with np.errstate(divide="ignore"):
        r = np.sqrt(-2.0 * np.log(q))
    top = 2.515517 + r * (0.802853 + r * 0.010328)
    z = r - top / (1.0 + r * (1.432788 + r * (0.189269 + r * 0.001308)))
    return np.where(p < 0.5, -z, z)


_LOW, _HIGH = float(_probit(TAIL)), float(_probit(1.0 - TAIL))
