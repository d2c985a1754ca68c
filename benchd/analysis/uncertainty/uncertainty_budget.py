"""The budget of a figure: each source with its share (JCGM 100:2008, 7.2.7 and annex H.1, from memory)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Contributions, Source, Stated, effective_dof, standard


class BudgetLine(NamedTuple):
    """One source. ``contribution`` is in the figure's unit: the signed sensitivity times one standard uncertainty.

    ``contribution`` of a source of several parts is the root of their squares, without a sign.
    """

    source: str
    contribution: float
    share: float  # of the variance, 0 to 1
    dof: float
    shared: bool


@dataclass(frozen=True, slots=True)
class Budget:
    """The sources of one figure, the largest first."""

    quantity: Quantity
    lines: tuple[BudgetLine, ...]
    standard: float
    dof: float
    stated: Stated


def budget_of(quantity: Quantity) -> Budget | None:
    """The budget; None for a bound, an absent figure, or one whose uncertainty is not known."""
    stated = quantity.stated
    found = None if quantity.sources is None else quantity.sources.contributions()
    if stated is None or found is None:
        return None
    return Budget(quantity, _lines(found), standard(found), effective_dof(found), stated)


def _lines(found: Mapping[Source, float]) -> tuple[BudgetLine, ...]:
    groups: dict[tuple[str, float, bool], Contributions] = {}
    for source, amount in found.items():
        key = (source.group or source.name, source.dof, source.shared or source.display)
        groups.setdefault(key, {})[source] = amount
    whole = standard(found) ** 2
    lines = []
    for (name, dof, shared), together in groups.items():
        amounts, size = list(together.values()), standard(together) ** 2
        if size <= 1e-12 * whole:
            continue  # it cancels, but for rounding
        contribution = amounts[0] if len(amounts) == 1 else math.sqrt(size)
        lines.append(BudgetLine(name, contribution, size / whole, dof, shared))
    return tuple(sorted(lines, key=lambda line: -line.share))
