"""Peak luminance in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic import Field

from benchd.plan.blocks import Block, BlockBody, twice
from benchd.plan.layout import (
    bright_code,
    windows_entry,
    windows_in_time,
)
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.reading.base import Wrong
from benchd.profile.reading.values import (
    AreaPercent,
    Level,
)


class Peak(BlockBody):
    """Luminance of a bright window on black over its size and over time, each after a rest in the dark."""

    areas_percent: tuple[AreaPercent, ...] = Field(
        default=(1.0, 2.0, 3.0, 5.0, 10.0, 18.0, 25.0, 50.0, 75.0, 100.0),
        min_length=1,
        max_length=24,
        description="sizes of the window, percent of the screen's area",
    )
    for_s: float = Field(default=60.0, ge=10, le=120, description="seconds that each window is read for")
    black_s: float = Field(default=10.0, ge=5, le=600, description="seconds of black before each window")
    level_cd_m2: Level | None = Field(
        default=None, description="luminance that the code stands for, with signal: only; left out: the largest code"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A size given twice."""
        return twice(data.get("areas_percent"), "areas_percent", "size")


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """A window each, over time."""
    body: Peak = block.body
    code = bright_code(plan, body.level_cd_m2)
    return windows_in_time(plan, block, body.areas_percent, code, body.black_s, body.for_s)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The windows, their code, and their times."""
    body: Peak = block.body
    code = bright_code(plan, body.level_cd_m2)
    return windows_entry(plan, body.areas_percent, code, body.black_s, body.for_s)


PART = PlanPart(Peak, steps, describe, example={"areas_percent": [10], "for_s": 10, "black_s": 5}, signal="any")
