"""Halo in a plan: its keys and its steps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Literal

from pydantic import Field

from benchd.patch.model import Patch
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import (
    black_code,
    bright_code,
    signal_entry,
    step,
    transfer_of,
)
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Labels, Step
from benchd.profile.reading.base import Wrong, is_number, items_of
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import (
    Level,
)

HALO_AREA_PERCENT = 4.0


class Halo(BlockBody):
    """Black beside bright: a bright window at set distances from the meter, and checkerboards of set cells.

    The meter stays at the centre; the window comes nearer. Dimming zones and haloing show as black that rises.
    """

    distances_percent: tuple[float, ...] = Field(
        default=(2.0, 5.0, 10.0, 20.0, 30.0),
        min_length=1,
        max_length=16,
        description="from the meter to the nearest edge of the window, percent of the screen's width",
    )
    area_percent: float = Field(
        default=HALO_AREA_PERCENT, ge=0.5, le=10, description="size of the window, percent of the screen's area"
    )
    sides: tuple[Literal["right", "left"], ...] = Field(
        default=("right",), min_length=1, description="on which side of the meter the window is"
    )
    boards: tuple[int, ...] = Field(
        default=(3, 5, 9, 15),
        max_length=8,
        description="checkerboards with so many columns and rows (odd, so that a cell's middle is the screen's)",
    )
    level_cd_m2: Level | None = Field(
        default=None, description="luminance that the code stands for, with signal: only; left out: the largest code"
    )

    key_rules = (
        EachOnce("distances_percent", "distance"),
        EachOnce("sides", "side"),
        EachOnce("boards", "board"),
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Windows that would leave the screen or cover the meter, boards without a middle cell."""
        area = data.get("area_percent", HALO_AREA_PERCENT)
        side = 100.0 * (area / 100.0) ** 0.5 if is_number(area) and area > 0 else 0.0
        for index, distance in enumerate(items_of(data.get("distances_percent"))):
            if is_number(distance) and not 0.5 <= distance <= 50.0 - side:
                yield Wrong(
                    ("distances_percent", index),
                    f"distance {show(distance)}: use 0.5 to {50.0 - side:.3g} % of the width, or the window of "
                    f"{area:g} % would cover the meter or leave the screen",
                )
        for index, board in enumerate(items_of(data.get("boards"))):
            if isinstance(board, int) and (board % 2 == 0 or not 3 <= board <= 25):
                yield Wrong(("boards", index), f"board {show(board)}: an odd number of cells, 3 to 25")


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """Black, the window, the window beside the meter, and the boards."""
    body: Halo = block.body
    bright, black, transfer = bright_code(plan, body.level_cd_m2), black_code(plan), transfer_of(plan)
    bits, side = plan.bits, math.sqrt(body.area_percent / 100.0)
    dark = Patch("field", black, bits, transfer=transfer)
    yield step(plan, block, "black", dark, {"part": "black"}, black)
    lit = Patch("window", bright, bits, black, body.area_percent, transfer=transfer)
    yield step(plan, block, "window", lit, {"part": "window"}, bright)
    for where in body.sides:
        for distance in body.distances_percent:
            offset = distance / 100.0 + side / 2.0
            x = 0.5 + offset if where == "right" else 0.5 - offset
            patch = Patch("spot", bright, bits, black, body.area_percent, at=(round(x, 9), 0.5), transfer=transfer)
            labels: Labels = {"part": "beside", "side": where, "distance_percent": distance}
            yield step(plan, block, f"{where}/{distance:g}", patch, labels, black)
    for cells in body.boards:
        for polarity in ("black", "white"):
            # The middle cell of an odd board has the corner's code; ``inverse`` makes it the surround's.
            board = Patch(
                "checkerboard", bright, bits, black, columns=cells, rows=cells, inverse=polarity == "black",
                transfer=transfer,
            )  # fmt: skip
            seen = bright if polarity == "white" else black
            yield step(plan, block, f"board-{cells}/{polarity}", board, {"part": polarity, "cells": cells}, seen)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """Where the window is, the boards, and their code."""
    body: Halo = block.body
    entry = signal_entry(plan) | {"distances_percent": list(body.distances_percent), "sides": list(body.sides)}
    entry |= {"boards": list(body.boards), "area_percent": body.area_percent}
    return entry | {"code": bright_code(plan, body.level_cd_m2)[0]}


PART = PlanPart(Halo, steps, describe, example={"distances_percent": [5], "boards": [3]}, signal="any")
