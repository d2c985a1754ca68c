"""One step of a run, and where the meter is: the smallest thing that a plan becomes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchd.patch.model import Patch
from benchd.plan.sweep import Point

CENTRE = (0.5, 0.5)

At = tuple[float, float]
Role = dict[str, str | int | float]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a run: a patch, a place for the meter, and how many readings."""

    id: str  # such as "uniformity/r2c3/white"; unique in the plan
    block: str  # name of the block it belongs to; "" for the warm-up
    kind: Literal["measure", "warm_up"]
    patch: Patch
    role: dict[str, str | int | float]  # what analysis needs to know; see describe()
    place: str = "centre"  # "centre" or "r2c3"
    at: tuple[float, float] = CENTRE  # the meter's place, fractions of width and height
    readings: int = 3
    settle_s: float = 0.6
    integration_s: float | None = None
    dark: bool = False  # treated as a dark patch
    settings: Point = ()  # display controls and their values while this is measured

    @property
    def base(self) -> str:
        """The block's name in the plan, without the point of a sweep."""
        return self.block.rpartition("/")[2]
