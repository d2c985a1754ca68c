"""Uniformity in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import Field

from benchd.patch.model import field, grey
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import at_place, level_code, level_name, serpentine, step
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Labels, Step
from benchd.profile.reading.values import (
    Grid,
    Percent,
    grid_sides,
)


class Uniformity(BlockBody):
    """A grid of places over the screen, equally spaced between the margins."""

    grid: Grid = Field(default="5x5", description="columns x rows, such as 7x5, both 1 to 25")
    levels_percent: tuple[Percent, ...] = Field(
        default=(100.0,), min_length=1, max_length=16, description="grey levels, percent of the largest code"
    )
    margin_percent: float = Field(
        default=10.0, ge=1, le=45, description="first and last place from the edge, percent of the width and height"
    )

    key_rules = (EachOnce("levels_percent", "level"),)


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """Every level at every place, a place once."""
    uniformity: Uniformity = block.body
    columns, rows = grid_sides(uniformity.grid)
    xs, ys = (positions(count, uniformity.margin_percent) for count in (columns, rows))
    for number, cell in enumerate(serpentine(xs, ys, here)):
        for percent in at_place(plan, block, cell, number, uniformity.levels_percent):
            patch = field(grey(level_code(percent, plan.bits)), plan.bits)
            level = level_name(percent)
            labels: Labels = {"row": cell.row, "column": cell.column, "level": level, "level_percent": percent}
            yield step(plan, block, f"{cell.place}/{level}", patch, labels, patch.code, cell)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The grid and its levels."""
    uniformity: Uniformity = block.body
    columns, rows = grid_sides(uniformity.grid)
    levels = [
        {"level": level_name(percent), "percent": percent, "code": level_code(percent, plan.bits)}
        for percent in uniformity.levels_percent
    ]
    return {"columns": columns, "rows": rows, "levels": levels, "margin_percent": uniformity.margin_percent}


def positions(count: int, margin_percent: float) -> tuple[float, ...]:
    """``count`` fractions, equally spaced from the margin to its opposite; a single one is the middle.

    With 10 % and 3 or 5 places: the positions of FPDM 306-1 and IDMS chapter 8 (from memory).
    """
    if count == 1:
        return (0.5,)
    margin = margin_percent / 100.0
    return tuple(round(margin + index * (1.0 - 2.0 * margin) / (count - 1), 9) for index in range(count))


PART = PlanPart(Uniformity, steps, describe, example={"grid": "3x3"}, signal="full range")
