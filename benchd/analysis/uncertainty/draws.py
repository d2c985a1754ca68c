"""Drawn errors of several figures at once: what they share is drawn once, so that it is in all of them.

A figure whose interval is not symmetrical knows how it changes with drawn errors (`BoundedNode`): a distance, an
extreme, a coverage. All others follow their sources in proportion. So differences of any two figures can be drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple, Protocol, TypeGuard

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.uncertainty.sources import (
    Node,
    Renamed,
    Source,
    Stated,
    Sum,
    coverage_factor,
    effective_dof,
    standard,
)

DRAWS = 1000
SEED = 20_261_125


class Normal(Protocol):
    """Standard normal numbers for sources."""

    def of(self, sources: Sequence[Source]) -> Array:
        """(draws, sources), each draw with its mirror image."""


class BoundedNode(Protocol):
    """The node of a figure that does not follow its sources in proportion: it has an edge that it can't pass."""

    @property
    def edge(self) -> float:
        """0 of a distance, 100 % of a coverage."""

    @property
    def read(self) -> float:
        """The figure as it was read."""

    def moved(self, normal: Normal) -> Array | None:
        """What the figure may truly be, less what was read (draws,); None where a source is not known."""

    def stated(self, value: float) -> Stated | None:
        """Its interval; None where a source is not known."""


class FigureSources:
    """The sources of one figure, in its own order: the same numbers always."""

    __slots__ = ("_draws",)

    def __init__(self, draws: int = DRAWS) -> None:
        self._draws = draws

    def of(self, sources: Sequence[Source]) -> Array:
        """Numbers that do not depend on what the sources are called."""
        return mirrored(drawn_normal(self._draws // 2, len(sources)))


class SharedSources:
    """The sources of several figures, each drawn once."""

    __slots__ = ("_columns", "_dice")

    def __init__(self) -> None:
        self._dice = np.random.default_rng(SEED)
        self._columns: dict[Source, Array] = {}

    def of(self, sources: Sequence[Source]) -> Array:
        """The same numbers for a source in whichever figure it is."""
        for source in sources:
            if source not in self._columns:
                self._columns[source] = self._dice.standard_normal(DRAWS // 2)
        if not sources:
            return np.zeros((DRAWS, 0))
        return mirrored(np.stack([self._columns[source] for source in sources], axis=1))


class _OfLog(NamedTuple):
    """The sources of one log under names of their own, as `Renamed` has them."""

    normal: Normal
    log: Renamed

    def of(self, sources: Sequence[Source]) -> Array:
        return self.normal.of([self.log.named(one) for one in sources])


def is_bounded(node: Node | None) -> bool:
    """True where a figure, or a part of its sum, does not follow its sources in proportion."""
    if isinstance(node, Renamed):
        return is_bounded(node.node)
    if isinstance(node, Sum):
        return any(is_bounded(part) for _, part in node.parts)
    return node is not None and has_edge(node)


def moved(node: Node, normal: Normal) -> Array | None:
    """What a figure may truly be, less what was read (draws,); None where a source is not known."""
    if isinstance(node, Renamed):
        return moved(node.node, _OfLog(normal, node))
    if has_edge(node):
        return node.moved(normal)
    if isinstance(node, Sum) and is_bounded(node):
        parts = [(sensitivity, moved(part, normal)) for sensitivity, part in node.parts]
        if any(one is None for _, one in parts):
            return None
        return np.asarray(sum(sensitivity * one for sensitivity, one in parts if one is not None))
    if (found := node.contributions()) is None:
        return None
    amounts = np.array(list(found.values()), dtype=np.float64)
    drawn = -(normal.of(list(found)) @ amounts) * widened(effective_dof(found))
    independent = math.sqrt(float((amounts**2).sum()))  # less than all together where sources of a group may be one
    return np.asarray(drawn * (standard(found) / independent) if independent else drawn)


def widened(dof: float) -> float:
    """Student's factor over the normal one: it stretches normal errors of a poorly known standard deviation."""
    return coverage_factor(dof) / coverage_factor(math.inf)


def mirrored(half: Array) -> Array:
    """Each draw (first axis) with its mirror image."""
    return np.concatenate([half, -half])


@cache
def drawn_normal(draws: int, sources: int) -> Array:
    """Standard normal numbers (draws, sources), the same always; more sources append columns."""
    return np.random.default_rng(SEED).standard_normal((sources, draws)).T


def has_edge(node: Node | BoundedNode) -> TypeGuard[BoundedNode]:
    """True for a `BoundedNode` node itself."""
    return getattr(node, "edge", None) is not None
