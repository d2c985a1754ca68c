"""What blocks of an HDR signal lay their patches with: its codes, windows on its black, windows over time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from benchd.patch.model import Code, Patch, Transfer, grey, max_code
from benchd.plan.blocks import Block
from benchd.plan.layout.step_layout import step
from benchd.plan.plan import Plan
from benchd.plan.step import Series, Step

DENSE_S, DENSE_EVERY_S = 12.0, 0.1
"""Readings as fast as the meter can, so that the best second of the first ten is known."""


LATER_EVERY_S = 2.0


def signal_entry(plan: Plan) -> dict[str, Any]:
    """What a log keeps of the signal with each of these blocks."""
    return {"bits": plan.bits, "signal": plan.signal.described() if plan.signal else None}


def level_grey(plan: Plan, level_cd_m2: float) -> Code:
    """The code of a grey of ``level_cd_m2``; only in a plan with a signal."""
    assert plan.signal is not None  # the plan was refused without
    return grey(plan.signal.level(level_cd_m2))


def transfer_of(plan: Plan) -> Transfer:
    """The transfer function of the plan's codes."""
    return plan.signal.transfer if plan.signal else "sdr"


def black_code(plan: Plan) -> Code:
    """The smallest code of the signal's range. SDR codes have no narrow range and no levels here."""
    return plan.signal.black if plan.signal else grey(0)


def bright_code(plan: Plan, level_cd_m2: float | None) -> Code:
    """The code of a level, or the largest one."""
    if plan.signal is None:
        return grey(max_code(plan.bits))
    return plan.signal.brightest if level_cd_m2 is None else grey(plan.signal.level(level_cd_m2))


def signal_window(plan: Plan, code: Code, area_percent: float) -> Patch:
    """A centred window on the signal's black, or a full screen."""
    transfer = transfer_of(plan)
    if area_percent >= 100:
        return Patch("field", code, plan.bits, transfer=transfer)
    return Patch("window", code, plan.bits, black_code(plan), area_percent, transfer=transfer)


def windows_in_time(
    plan: Plan, block: Block, areas_percent: Sequence[float], code: Code, black_s: float, for_s: float
) -> Iterator[Step]:
    """Bright windows read over time, as listed: each begins with a rest of its own, so that no order favours any."""
    for area in areas_percent:
        # Of one reading a second the best second would be a single one, brighter than any second of a panel that dims.
        series = Series(black_s, black_code(plan)[0], for_s, DENSE_S, DENSE_EVERY_S, LATER_EVERY_S)
        patch = signal_window(plan, code, area)
        yield step(plan, block, f"{area:g}", patch, {"area_percent": area}, code).in_time(series)


def windows_entry(
    plan: Plan, areas_percent: Sequence[float], code: Code, black_s: float, for_s: float
) -> dict[str, Any]:
    """What a log keeps of windows that are read over time."""
    times = {"for_s": for_s, "black_s": black_s, "code": code[0]}
    return signal_entry(plan) | {"areas_percent": list(areas_percent)} | times
