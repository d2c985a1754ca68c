"""Contrast in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

from pydantic import Field

from benchd.patch.model import Patch, grey, max_code
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import at_place, black_white, serpentine, step
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Labels, Step

CHECKER_SIDE = 4  # 16 zones, after ANSI/INFOCOMM 3M-2011


class Contrast(BlockBody):
    """Contrast: full screens one after the other, and the 4 x 4 checkerboard with its inverse."""

    kinds: tuple[Literal["sequential", "checkerboard"], ...] = Field(
        default=("sequential",), min_length=1, description="which contrasts are measured"
    )

    key_rules = (EachOnce("kinds", "kind"),)


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """Full screens, checkerboards, or both."""
    contrast: Contrast = block.body
    # In the order of the fewest moves, whatever the list's order: first the one that is measured here.
    boards = list(_checkerboards(plan, block, here)) if "checkerboard" in contrast.kinds else []
    screens = list(black_white(plan, block, {"kind": "sequential"})) if "sequential" in contrast.kinds else []
    yield from [*boards, *screens] if boards and boards[0].at == here else [*screens, *boards]


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """Which contrasts, and the cells of the checkerboard."""
    return {"kinds": list(block.body.kinds), "columns": CHECKER_SIDE, "rows": CHECKER_SIDE}


def _checkerboards(plan: Plan, block: Block, here: At) -> Iterator[Step]:
    middles = tuple((index + 0.5) / CHECKER_SIDE for index in range(CHECKER_SIDE))
    white, black = grey(max_code(plan.bits)), grey(0)
    for number, cell in enumerate(serpentine(middles, middles, here)):
        for polarity in at_place(plan, block, cell, number, ("normal", "inverse")):
            inverse = polarity == "inverse"
            patch = Patch(
                "checkerboard", white, plan.bits, black, columns=CHECKER_SIDE, rows=CHECKER_SIDE, inverse=inverse
            )
            lit = ((cell.row + cell.column) % 2 == 0) != inverse
            labels: Labels = {"kind": "checkerboard", "polarity": polarity, "row": cell.row, "column": cell.column}
            labels["level"] = "white" if lit else "black"
            board = "checker-inverse" if inverse else "checker"
            yield step(plan, block, f"{board}/{cell.place}", patch, labels, white if lit else black, cell)


PART = PlanPart(Contrast, steps, describe, example={}, signal="full range")
