"""A tone curve in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field

from benchd.patch.model import grey
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import (
    ordered,
    signal_entry,
    signal_window,
    step,
)
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.reading.base import Rule
from benchd.profile.reading.values import (
    AreaPercent,
    Level,
)

DEFAULT_TONE_STEPS = 33


class ToneCurve(BlockBody):
    """Greys of the signal's own scale against its tone curve, and where the screen rolls off. Needs signal:."""

    steps: int | None = Field(default=None, ge=5, le=129, description="number of equal steps of the signal (33)")
    levels_cd_m2: tuple[Level, ...] | None = Field(
        default=None,
        min_length=2,
        max_length=129,
        description="luminances that the codes stand for, in place of steps; with HLG also black and the peak",
    )
    area_percent: AreaPercent = 10.0

    key_rules = (
        Rule(("steps", "levels_cd_m2"), (), "give steps or levels_cd_m2, not both", at="levels_cd_m2"),
        EachOnce("levels_cd_m2", "level"),
    )


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """A grey each."""
    body: ToneCurve = block.body
    for code in ordered(plan, block, tone_codes(plan, body), key=str):
        patch = signal_window(plan, grey(code), body.area_percent)
        yield step(plan, block, f"code-{code}", patch, {"code": code}, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The codes and the window."""
    body: ToneCurve = block.body
    return signal_entry(plan) | {"codes": list(tone_codes(plan, body)), "area_percent": body.area_percent}


def tone_codes(plan: Plan, body: ToneCurve) -> tuple[int, ...]:
    """The codes of a tone curve, ascending, each once: equal steps of the signal, or those of the levels."""
    signal = plan.signal
    assert signal is not None  # the plan was refused without
    if body.levels_cd_m2 is not None:
        # An HLG curve is held against the display's own peak and black, so that these are always measured.
        ends = {signal.code(0.0), signal.code(1.0)} if signal.transfer == "hlg" else set()
        return tuple(sorted({signal.level(level) for level in body.levels_cd_m2} | ends))
    count = body.steps or DEFAULT_TONE_STEPS
    return tuple(sorted({signal.code(index / (count - 1)) for index in range(count)}))


PART = PlanPart(ToneCurve, steps, describe, example={"steps": 5}, signal="needed")
