"""Blocks of bright windows over time: the keys that they share, their steps, and what a log keeps of them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field

from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import black_code, bright_code, signal_entry, signal_window, step
from benchd.plan.measurement import Files
from benchd.plan.plan import Plan
from benchd.plan.step import At, Series, Step
from benchd.profile.reading.values import AreaPercent, Level

DENSE_S, DENSE_EVERY_S = 12.0, 0.1
"""Readings as fast as the meter can, so that the best second of the first ten is known."""
LATER_EVERY_S = 2.0


class Windows(BlockBody):
    """Bright windows on black of several sizes, each read over time after a rest in the dark."""

    areas_percent: tuple[AreaPercent, ...]
    black_s: float
    level_cd_m2: Level | None = Field(
        default=None, description="luminance that the code stands for, with signal: only; left out: the largest code"
    )

    key_rules = (EachOnce("areas_percent", "size"),)

    @property
    def window_s(self) -> float:
        """Seconds that each window is read for."""
        raise NotImplementedError


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """A window each, as listed: each begins with a rest of its own, so that no order favours any."""
    body: Windows = block.body
    code = bright_code(plan, body.level_cd_m2)
    # Of one reading a second the best second would be a single one, brighter than any second of a panel that dims.
    series = Series(body.black_s, black_code(plan)[0], body.window_s, DENSE_S, DENSE_EVERY_S, LATER_EVERY_S)
    for area in body.areas_percent:
        patch = signal_window(plan, code, area)
        yield step(plan, block, f"{area:g}", patch, {"area_percent": area}, code).in_time(series)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The windows, their code, and their times."""
    body: Windows = block.body
    times = {"for_s": body.window_s, "black_s": body.black_s, "code": bright_code(plan, body.level_cd_m2)[0]}
    return signal_entry(plan) | {"areas_percent": list(body.areas_percent)} | times
