"""Grayscale in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field

from benchd.patch.model import equal_codes, grey
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import level_code, ordered, step, window
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.reading.base import Rule
from benchd.profile.reading.values import AreaPercent, GreyCode, StepCount, SurroundPercent, WhiteOfDifferences

DEFAULT_STEPS = 21


class Grayscale(BlockBody):
    """Greys at the centre: equal steps or a list of codes."""

    steps: StepCount | None = Field(
        default=None, description="number of equal steps from black to white, both included"
    )
    codes: tuple[GreyCode, ...] | None = Field(default=None, min_length=2, description="codes, in place of steps")
    white: WhiteOfDifferences = "target"
    area_percent: AreaPercent = 100.0
    surround_percent: SurroundPercent = 0.0

    key_rules = (
        Rule(("steps", "codes"), (), "give steps or codes, not both", at="codes"),
        EachOnce("codes", "code"),
    )


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """A grey each."""
    gray: Grayscale = block.body
    surround = grey(level_code(gray.surround_percent, plan.bits))
    for code in ordered(plan, block, grayscale_codes(gray, plan.bits), key=str):
        patch = window(grey(code), plan.bits, gray.area_percent, surround)
        yield step(plan, block, f"code-{code}", patch, {"code": code}, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The codes, how they are shown, and the white of the colour differences."""
    gray: Grayscale = block.body
    return {
        "codes": list(grayscale_codes(gray, plan.bits)),
        "bits": plan.bits,
        "white": gray.white,
        "area_percent": gray.area_percent,
        "surround_percent": gray.surround_percent,
    }


def grayscale_codes(block: Grayscale, bits: int) -> tuple[int, ...]:
    """The codes of a grayscale: as listed, or equal steps."""
    return block.codes if block.codes is not None else tuple(equal_codes(block.steps or DEFAULT_STEPS, bits))


PART = PlanPart(Grayscale, steps, describe, example={"steps": 5})
