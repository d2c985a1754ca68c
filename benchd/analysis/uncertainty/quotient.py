"""The interval of a ratio whose divisor is itself uncertain, and of sums of such ratios.

To first order a ratio has an interval of equal halves. Where the divisor is known to a tenth of its value that is no
longer true: the upper half is the longer one, and where the divisor's own interval reaches zero there is no upper end.
The theorem of Fieller (J. R. Stat. Soc. B 16 (1954) 175, from memory) is exact for normal errors: the interval holds
every ratio r for which a - r b is not significantly different from zero. Variance and degrees of freedom of a - r b
come from the sources of both, so that what they share, such as one meter's scale, cancels.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from benchd.analysis.uncertainty.sources import (
    NORMAL,
    Contributions,
    Node,
    Renamed,
    Stated,
    Sum,
    add,
    coverage_factor,
    effective_dof,
    standard,
    stated,
)

if TYPE_CHECKING:
    from benchd.analysis.colour.colorimetry import Array
    from benchd.analysis.uncertainty.draws import Normal

SKEW = 0.05
"""Halves of an interval that differ from their mean by more are stated by the ends alone: they show in two digits."""
ROUNDS = 20
"""The coverage factor depends on the end that it makes; a few rounds settle it."""


def fieller(top: float, bottom: float, of_top: Contributions, of_bottom: Contributions) -> tuple[float, float]:
    """Ends of the 95 % interval of ``top`` / ``bottom``, both of lights: from zero up, the upper one perhaps infinite.

    ``of_top``, ``of_bottom``: signed contributions of each source to each, in their own units. ``bottom`` may be 0,
    such as a mean below zero that is taken as zero: then there is no upper end.
    """
    variances = _variances(of_top, of_bottom)
    # A divisor that was read as nothing has no ratio to begin with: its own degrees of freedom decide.
    residual = _residual(top / bottom, of_top, of_bottom) if bottom > 0.0 else of_bottom
    first = coverage_factor(effective_dof(residual))

    def end(*, upper: bool) -> float:
        factor = first
        for _ in range(ROUNDS):
            found = _root(top, bottom, factor * factor, variances, upper=upper)
            if math.isinf(found):
                break
            before, factor = factor, coverage_factor(effective_dof(_residual(found, of_top, of_bottom)))
            if abs(factor - before) <= 1e-9 * before:
                break
        return found

    return end(upper=False), end(upper=True)


def lowest_ratio(top: float, of_top: Node | None, bottom: float, of_bottom: Node | None) -> float:
    """Lower end of the ratio over a divisor that may be zero; infinite where its sources are not known.

    A ``top`` without sources counts as exact.
    """
    above = {} if of_top is None else of_top.contributions()
    below = None if of_bottom is None else of_bottom.contributions()
    return math.inf if above is None or not below else fieller(top, bottom, above, below)[0]


def _root(a: float, b: float, t2: float, variances: tuple[float, float, float], *, upper: bool) -> float:
    """The r >= 0 with (a - r b)^2 = t^2 var(a - r b) on one side of a / b; infinite where there is none above."""
    aa, ab, bb = variances
    p, q, s = b * b - t2 * bb, a * b - t2 * ab, a * a - t2 * aa
    inside = q * q - p * s
    if p > 0.0:
        root = math.sqrt(max(0.0, inside))
        return (q + root) / p if upper else max(0.0, (q - root) / p)
    # The divisor's interval reaches zero: only a lower end is left, and none where the top's reaches zero too.
    if upper:
        return math.inf
    if s <= 0.0 or inside < 0.0:
        return 0.0
    if p == 0.0:
        return max(0.0, s / (2.0 * q)) if q else math.inf
    return (q - math.sqrt(inside)) / p


def _variances(of_top: Contributions, of_bottom: Contributions) -> tuple[float, float, float]:
    return (
        standard(of_top) ** 2,
        math.fsum(one * of_bottom.get(source, 0.0) for source, one in of_top.items()),
        standard(of_bottom) ** 2,
    )


def _residual(ratio: float, of_top: Contributions, of_bottom: Contributions) -> Contributions:
    """Contributions to a - r b."""
    found = dict(of_top)
    before = found.get
    for source, amount in of_bottom.items():
        found[source] = before(source, 0.0) - ratio * amount
    return found


class Quotient(NamedTuple):
    """The node of ``top`` / ``bottom``: linear where both are well known, else with the ends of `fieller`."""

    top: Node
    bottom: Node
    over: float
    under: float

    @property
    def read(self) -> float:
        """The ratio as it was read."""
        return self.over / self.under

    @property
    def edge(self) -> float | None:
        """0, where the interval is skew: then differences are taken by its ends (`uncertainty.difference_interval`)."""
        found = self.stated(self.read)
        return 0.0 if found is not None and found.k is None else None

    def contributions(self) -> Contributions | None:
        """To first order where it was read."""
        top, bottom = self.top.contributions(), self.bottom.contributions()
        return None if top is None or bottom is None else self._linear(top, bottom)

    def _linear(self, top: Contributions, bottom: Contributions) -> Contributions:
        whole: Contributions = {}
        add(whole, 1.0 / self.under, top)
        add(whole, -self.read / self.under, bottom)
        return whole

    def stated(self, value: float) -> Stated | None:
        """Symmetrical with its coverage factor, or the ends alone where the halves differ by more than `SKEW`.

        An interval without an upper end has an infinite one.
        """
        top, bottom = self.top.contributions(), self.bottom.contributions()
        if top is None or bottom is None:
            return None
        linear = self._linear(top, bottom)
        low, high = fieller(self.over, self.under, top, bottom)
        below, above = self.read - low, high - self.read
        if not math.isinf(above) and abs(above - below) <= SKEW * (above + below):
            return stated(value, linear, lowest=0.0)
        scale = value / self.read if self.read else 1.0
        half = (below + above) / 2.0
        return Stated(half * scale, None, effective_dof(linear), low * scale, high * scale)

    def chance_above(self, limit: float) -> float | None:
        """Probability that the true ratio is above ``limit``: that a - limit b is above zero, by Student's t.

        None where a source is not known.
        """
        top, bottom = self.top.contributions(), self.bottom.contributions()
        if top is None or bottom is None:
            return None
        from benchd.distributions import t_above

        residual = _residual(limit, top, bottom)
        u, apart = standard(residual), self.over - limit * self.under
        return t_above(-apart / u, effective_dof(residual)) if u > 0.0 else float(apart > 0.0)

    def moved(self, normal: Normal) -> Array | None:
        """What the ratio may truly be, less what was read (draws,), for figures that are drawn together."""
        linear, found = self.contributions(), self.stated(self.read)
        if linear is None or found is None:
            return None
        return stretched(linear, self.read - found.low, found.high - self.read, normal)


def stretched(linear: Contributions, below: float, above: float, normal: Normal) -> Array:
    """Draws (draws,) of a figure that follow its sources in proportion, each half stretched to that of its interval."""
    import numpy as np

    drawn = normal.of(list(linear)) @ np.array(list(linear.values()), dtype=np.float64)
    u = standard(linear)
    if u <= 0.0:
        return np.asarray(drawn)
    share = -drawn / (u * NORMAL)
    return np.asarray(np.where(share < 0.0, share * below, share * above))


def is_skew(node: Node) -> bool:
    """True where a ratio with a skew interval is this node, or a part of its sum."""
    return any(isinstance(part, Quotient) and part.edge is not None for _, part in _flat(node))


def subtracts(node: Node) -> bool:
    """True where something is taken off in a sum."""
    if isinstance(node, Renamed):
        return subtracts(node.node)
    return isinstance(node, Sum) and any(by < 0.0 or subtracts(part) for by, part in node.parts)


def reach_of(node: Node | None) -> tuple[float, float]:
    """How far below and above its value a figure of ``node`` may be (95 %); nothing where that is not known."""
    if node is None:
        return 0.0, 0.0
    if is_skew(node):
        found = stated_sum(0.0, node)
        return (0.0, 0.0) if found is None else (-found.low, found.high)
    parts = node.contributions()
    half = stated(0.0, parts).expanded if parts else 0.0
    return half, half


def stated_sum(value: float, node: Node) -> Stated | None:
    """The interval of a sum that has skew ratios in it; its ends keep theirs.

    The halves of the parts add with their correlation to first order (MOVER: Zou and Donner, Statistics in Medicine
    27 (2008) 1693, from memory); what is not skew is one part of equal halves.
    """
    if (linear := node.contributions()) is None:
        return None
    parts: list[tuple[float, float, Contributions]] = []  # how far each moves the sum down and up, and by which sources
    rest: list[tuple[float, Node]] = []
    for sensitivity, one in _flat(node):
        found = one.stated(one.read) if isinstance(one, Quotient) else None
        if found is None or found.k is not None or not isinstance(one, Quotient):
            rest.append((sensitivity, one))
            continue
        below, above = abs(sensitivity) * (one.read - found.low), abs(sensitivity) * (found.high - one.read)
        moves = {source: sensitivity * amount for source, amount in (one.contributions() or {}).items()}
        parts.append((below, above, moves) if sensitivity > 0.0 else (above, below, moves))
    others = Sum(tuple(rest)).contributions() or {}
    half = coverage_factor(effective_dof(others)) * standard(others)
    halves_below, halves_above, moves_of = zip(*parts, (half, half, others), strict=True)
    below, above = (_together(halves, moves_of) for halves in (halves_below, halves_above))
    return Stated((below + above) / 2.0, None, effective_dof(linear), value - below, value + above)


def _together(halves: Sequence[float], moves: Sequence[Contributions]) -> float:
    """The half on one side of a sum of parts, each with its ``halves`` and what ``moves`` it."""
    if any(math.isinf(one) for one in halves):
        return math.inf
    whole = math.fsum(
        (1.0 if i == j else _correlation(moves[i], moves[j])) * a * b
        for i, a in enumerate(halves)
        for j, b in enumerate(halves)
    )
    return math.sqrt(max(0.0, whole))


def _correlation(first: Contributions, second: Contributions) -> float:
    aa, ab, bb = _variances(first, second)
    return ab / math.sqrt(aa * bb) if aa > 0.0 and bb > 0.0 else 0.0


def _flat(node: Node, by: float = 1.0) -> Iterable[tuple[float, Node]]:
    """The parts of sums within sums, each with its sensitivity; a log's own sources stay renamed."""
    if isinstance(node, Renamed):
        for sensitivity, part in _flat(node.node, by):
            if isinstance(part, Quotient):
                top, bottom = (replace(node, node=one) for one in (part.top, part.bottom))
                yield sensitivity, part._replace(top=top, bottom=bottom)
            else:
                yield sensitivity, replace(node, node=part)
    elif isinstance(node, Sum):
        for sensitivity, part in node.parts:
            yield from _flat(part, by * sensitivity)
    else:
        yield by, node
