"""Luminance in a plan: full-screen black and white at the centre."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchd.plan.blocks import Block, BlockBody
from benchd.plan.layout import black_white
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step


class Luminance(BlockBody):
    """Full-screen black and white at the centre."""


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """Black, then white."""
    return black_white(plan, block, {})


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """Nothing beside its name and kind."""
    return {}


PART = PlanPart(Luminance, steps, describe, example={}, signal="full range")
