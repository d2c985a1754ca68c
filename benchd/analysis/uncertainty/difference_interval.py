"""The difference of two figures of which one or both have an interval that is not symmetrical.

The largest of several colour differences, or coverages near 100 %, can't be subtracted as if they were linear. Three
half widths are known on each side of the difference:

- what is drawn of both at once (`uncertainty.draws`), what they share once, put back until the median of the
  differences is the one that was read (JCGM 101:2008, from memory): sharp where errors cancel
- what follows from the interval of each and the correlation of what was drawn (MOVER: Zou and Donner, Statistics in
  Medicine 27 (2008) 1693; with correlation Zou, Am. J. Epidemiol. 2007, from memory): true of each alone
- where an interval reaches the figure's edge (0 of a distance, 100 % of a coverage) all that was read may be noise,
  whose one direction does not add as the root of squares: there the sum of both

The less the two err alike, the more count the larger of the three: by one less the correlation. That weight is our
own, held to the truth by simulation (``tests/analysis/test_apart.py``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.uncertainty.draws import SharedSources, has_edge, is_bounded, moved
from benchd.analysis.uncertainty.noisy_length import TAIL, quantile
from benchd.analysis.uncertainty.quantity import Quantity, difference
from benchd.analysis.uncertainty.sources import NORMAL, Contributions, Node, Renamed, Stated, Sum, effective_dof
from benchd.analysis.verdicts.equivalence import Reach

TAIL_OF_90, NORMAL_OF_90 = 0.05, 1.6448536269514722
"""Of each side of the interval that equivalence is judged by: how many, and where it ends for a normal variable."""


class _Side(NamedTuple):
    """Half widths of one figure's own interval, and whether its lower or its upper end is the figure's edge."""

    below: float
    above: float
    at_lowest: bool
    at_highest: bool

    @property
    def turned(self) -> _Side:
        """Of the same figure with the other sign."""
        return _Side(self.above, self.below, self.at_highest, self.at_lowest)


@dataclass(frozen=True)
class DifferenceSources:
    """The node of ``first`` - ``second``; what was drawn is computed once."""

    first: Node
    second: Node

    def contributions(self) -> Contributions | None:
        """As if both were linear where they were read."""
        return Sum(((1.0, self.first), (-1.0, self.second))).contributions()

    @cached_property
    def reach(self) -> Reach | None:
        """Of the interval of the difference; None where a source is not known."""
        together = SharedSources()
        first, second = moved(self.first, together), moved(self.second, together)
        if first is None or second is None:
            return None
        a, b = _side(self.first, first), _side(self.second, second)
        apart, r = first - second, _correlation(first, second)
        below, below90 = _halves(a.turned, b.turned, -apart, r)
        above, above90 = _halves(a, b, apart, r)
        return Reach(below, above, below90, above90)

    def stated(self, value: float) -> Stated | None:
        """Half the width of the interval, and the interval; k is not defined."""
        if (reach := self.reach) is None:
            return None
        dof = effective_dof(self.contributions() or {})
        return Stated((reach.below + reach.above) / 2.0, None, dof, value - reach.below, value + reach.above)


def asymmetric_difference(first: Quantity, second: Quantity) -> Quantity:
    """``first`` - ``second``, with an interval that is true where those of the two are not symmetrical."""
    change = difference(first, second)
    if first.sources is None or second.sources is None or change.sources is None:
        return change
    if not (is_bounded(first.sources) or is_bounded(second.sources)):
        return change
    return change._replace(s=None, sources=DifferenceSources(first.sources, second.sources))


def _halves(a: _Side, b: _Side, apart: Array, r: float) -> tuple[float, float]:
    """How far the difference of ``a`` and ``b`` may be above what was read: with 97.5 %, and with 95 %."""
    middle, high90, high = (float(quantile(apart, level)) for level in (0.5, 1.0 - TAIL_OF_90, 1.0 - TAIL))
    limits = math.sqrt(max(0.0, a.above**2 + b.below**2 - 2.0 * r * a.above * b.below))
    weight = 1.0 - max(0.0, r)
    found = []
    for drawn, scale in ((high - middle, 1.0), (high90 - middle, NORMAL_OF_90 / NORMAL)):
        largest = max(drawn, scale * limits)
        if a.at_highest or b.at_lowest:
            # Whatever the level: an error of one direction does not shrink with it.
            largest = max(largest, a.above + b.below)
        found.append(max(0.0, (1.0 - weight) * drawn + weight * largest))
    return found[0], found[1]


def _side(node: Node, drawn: Array) -> _Side:
    """Of a figure by itself; ``drawn`` serves where it is a sum, of which no part may be all noise."""
    low, middle, high = (float(quantile(drawn, level)) for level in (TAIL, 0.5, 1.0 - TAIL))
    parts = _edged(node)
    at_lowest, at_highest = any(part.at_lowest for _, part in parts), any(part.at_highest for _, part in parts)
    if len(parts) == 1 and parts[0][0] == 1.0:
        return parts[0][1]
    below, above = middle - low, high - middle
    if at_lowest:
        below = max(below, math.fsum(size * part.below for size, part in parts))
    if at_highest:
        above = max(above, math.fsum(size * part.above for size, part in parts))
    return _Side(max(0.0, below), max(0.0, above), at_lowest, at_highest)


def _edged(node: Node) -> list[tuple[float, _Side]]:
    """The parts of a sum that have an edge, each with the size of its share in the sum."""
    if isinstance(node, Renamed):
        return _edged(node.node)
    if isinstance(node, Sum):
        found = [(sensitivity, one) for sensitivity, part in node.parts for one in _edged(part)]
        return [(abs(by) * size, one if by > 0.0 else one.turned) for by, (size, one) in found]
    if not has_edge(node):
        return []
    if (stated := node.stated(node.read)) is None:
        return []
    at_lowest = stated.low <= node.edge < stated.high
    at_highest = stated.low < node.edge <= stated.high
    return [(1.0, _Side(node.read - stated.low, stated.high - node.read, at_lowest, at_highest))]


def _correlation(first: Array, second: Array) -> float:
    """Of what was drawn; 0 where one of them does not move."""
    spread = float(first.std() * second.std())
    return float(((first - first.mean()) * (second - second.mean())).mean()) / spread if spread > 0.0 else 0.0
