"""One figure of the catalogue: what is declared of it, its quantity, and what it holds for."""

from __future__ import annotations

from dataclasses import dataclass, fields

from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure(DeclaredFigure):
    """One figure of a result, under its plain name; made of what its measurement declares of it.

    ``name``        in a sweep the catalogue adds its point: "white luminance at brightness=50"
    ``quantity``    value or bound with its uncertainty
    ``how``         what it means, in a few words
    ``block``       the block that it is from
    ``conditions``  what it holds for: it is compared with figures of equal conditions only
    ``stand_in``    of a block that is made for something else: it counts at a point of a sweep alone, where the first
                    block that has it gives it
    """

    quantity: Quantity
    how: str
    block: str
    conditions: Conditions = ()
    stand_in: bool = False


_DECLARED = tuple(one.name for one in fields(DeclaredFigure))


def figure_of(
    declared: DeclaredFigure,
    quantity: Quantity,
    how: str,
    block: str,
    conditions: Conditions = (),
    *,
    stand_in: bool = False,
) -> Figure:
    """The declared figure of a block."""
    known = {name: getattr(declared, name) for name in _DECLARED}
    return Figure(**known, quantity=quantity, how=how, block=block, conditions=conditions, stand_in=stand_in)
