"""The keys of every kind of block: how its patches are treated, its name, and where a sweep leaves it out.

Apart from the blocks themselves, so that each kind can stand in a file of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import Field

from benchd.plan.precision import AtMost, Repeatability
from benchd.plan.sweep import Conditions
from benchd.profile.reading.base import ProfileModel, Wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Integration, Name

Order = Annotated[
    Literal["listed", "shuffled", "there_and_back"],
    Field(
        description="order of the patches within a block; shuffled by the seed, so always alike; there_and_back: from "
        "dark to bright and back, so that steps are small"
    ),
]
Settle = Annotated[float, Field(ge=0, le=600, description="seconds to wait after a patch is on the screen")]
DarkSettle = Annotated[float, Field(ge=0, le=600, description="seconds to wait after a dark patch")]
Readings = Annotated[int, Field(ge=1, le=1000, description="readings of each patch")]
DarkReadings = Annotated[int, Field(ge=1, le=1000, description="readings of each dark patch")]
DarkUpTo = Annotated[
    float,
    Field(ge=0, le=100, description="a patch is dark when its largest code is at or below this percent"),
]


class ReadingSettings(ProfileModel):
    """How patches are treated; what is left out is as in the plan."""

    order: Order | None = None
    settle_s: Settle | None = None
    dark_settle_s: DarkSettle | None = None
    readings: Readings | None = None
    dark_readings: DarkReadings | None = None
    dark_up_to_percent: DarkUpTo | None = None
    repeatability: Repeatability | None = None
    reading_time_at_most_s: AtMost | None = None
    integration_s: Integration | None = Field(
        default=None, description="seconds of one reading, or auto (the meter decides)"
    )
    dark_integration_s: Integration | None = Field(
        default=None, description="seconds of one reading of a dark patch, or auto"
    )


class BlockBody(ReadingSettings):
    """The keys of every kind of block."""

    name: Name | None = Field(default=None, description="name of the block, where a plan has two of a kind")
    skip: Conditions = Field(default=(), description="points of the sweep where this block is not measured")
    only: Conditions = Field(default=(), description="the only points of the sweep where this block is measured")


def twice(values: Any, key: str, what: str) -> Iterator[Wrong]:
    """Items of a list that stand in it twice."""
    seen: list[Any] = []
    for index, value in enumerate(values if isinstance(values, list) else ()):
        if value in seen:
            yield Wrong((key, index), f"{what} {show(value)} is given twice; once is enough")
        else:
            seen.append(value)
