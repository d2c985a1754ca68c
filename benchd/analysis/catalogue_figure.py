"""One figure of the catalogue: its names, its unit, which way it is better, and what it holds for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.uncertainty.quantity import Quantity

Better = Literal["more", "less", "nearer"]
"""Which way a figure is better: the more, the less, or the nearer to what was aimed at."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a result, under its plain name.

    ``name``        such as "white luminance"; in a sweep the catalogue adds its point: "... at brightness=50"
    ``topic``       heading that it stands under in a summary, such as "luminance" or "HDR"
    ``unit``        what its digits go by: "cd/m2", "1" (a ratio), "K", "%", "xy", "u'v'", "Duv", "dE00", "gamma", or
                    any other text, such as "ms" or "degrees", which is printed as it is
    ``better``      which way it is better
    ``quantity``    value or bound with its uncertainty
    ``how``         what it means, in a few words
    ``block``       the block that it is from
    ``conditions``  what it holds for: it is compared with figures of equal conditions only
    ``short``       name of few letters for tables and the command line; "": the name with hyphens
    ``claimable``   may a maker's claim be held against it?
    ``stand_in``    of a block that is made for something else: it counts at a point of a sweep alone, where the first
                    block that has it gives it
    ``headline``    does the summary show it? Others stand in sections, data and comparisons of parts
    """

    name: str
    topic: str
    unit: str
    better: Better
    quantity: Quantity
    how: str
    block: str
    conditions: Conditions = ()
    short: str = ""
    claimable: bool = True
    headline: bool = True
    stand_in: bool = False
