"""A figure whose interval reaches farther than its sources make it: something in it is only known within bounds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.quotient import stretched
from benchd.analysis.uncertainty.sources import NORMAL, Contributions, Node, Source, Stated, effective_dof, standard

if TYPE_CHECKING:
    from benchd.analysis.colour.colorimetry import Array
    from benchd.analysis.uncertainty.draws import Normal

WITHIN_BOUNDS = Source("what is only known within bounds")


class Widened(NamedTuple):
    """The node of a figure whose interval was widened to ``low`` and ``high``; ``read`` is the figure."""

    node: Node
    read: float
    low: float
    high: float

    @property
    def edge(self) -> float:
        """None that it could reach: differences are taken by its ends (`uncertainty.difference_interval`)."""
        return -math.inf

    def contributions(self) -> Contributions | None:
        """Those of the figure, and `WITHIN_BOUNDS` for what the wider interval has beyond them."""
        if (found := self.node.contributions()) is None:
            return None
        beyond = ((self.high - self.low) / (2.0 * NORMAL)) ** 2 - standard(found) ** 2
        return {**found, WITHIN_BOUNDS: math.sqrt(beyond)} if beyond > 0.0 else found

    def stated(self, value: float) -> Stated | None:
        """The ends alone."""
        if (found := self.contributions()) is None:
            return None
        shift, half = value - self.read, (self.high - self.low) / 2.0
        return Stated(half, None, effective_dof(found), self.low + shift, self.high + shift)

    def moved(self, normal: Normal) -> Array | None:
        """What the figure may truly be, less what was read (draws,)."""
        found = self.contributions()
        return None if found is None else stretched(found, self.read - self.low, self.high - self.read, normal)


def spanning(one: Quantity, values: Sequence[float]) -> Quantity:
    """``one`` with its interval made longer by as far as ``values``, what it might be as well, lie from its value."""
    own = one.interval
    if own is None or one.value is None or one.sources is None or not values:
        return one
    low, high = min(*values, one.value) - one.value, max(*values, one.value) - one.value
    return one._replace(sources=Widened(one.sources, one.value, own[0] + low, own[1] + high)) if high - low else one


def holding(one: Quantity, values: Sequence[float]) -> Quantity:
    """``one`` with an interval that holds ``values`` as well; as it was where it holds them already."""
    own = one.interval
    if own is None or one.value is None or one.sources is None or not values:
        return one
    low, high = min(*values, *own), max(*values, *own)
    if own[0] - low + high - own[1] <= 1e-3 * (own[1] - own[0]):
        return one
    return one._replace(sources=Widened(one.sources, one.value, min(low, one.value), max(high, one.value)))
