"""Does a plan fit a bench? What can be told from the files alone, before anything is opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchd.errors import InputError
from benchd.plan.signal import range_fault, signal_fault

if TYPE_CHECKING:
    from benchd.plan.bench import Bench
    from benchd.plan.model import Plan


def refuse_depth(plan: Plan, bench: Bench) -> None:
    """Raises `InputError` when the frame buffer that the bench asks for has too few bits for the plan's codes.

    A command that stands in for the screen says itself what it can show. So too when the plan's signal is not the one
    that the bench's screen emits, as far as the files tell.
    """
    screen = bench.screen
    wanted = "sdr" if plan.signal is None else plan.signal.transfer
    says_itself = screen.signal is None and (screen.command is not None or screen.connect is not None)
    emits = wanted if says_itself else screen.signal or "sdr"
    name = screen.monitor or screen.connect or f"of bench {bench.bench}"
    if fault := signal_fault(plan.plan, wanted, plan.bits, name, emits, plan.bits):
        raise InputError(fault)
    if fault := range_fault(plan.plan, plan.code_range, name, screen.range):
        raise InputError(fault)
    if bench.screen.monitor is not None and plan.bits > bench.screen.bits:
        raise InputError(
            f"plan {plan.plan} has codes of {plan.bits} bits and bench {bench.bench} asks for a frame buffer of "
            f"{bench.screen.bits}; set bits: {bench.screen.bits} in the plan, or screen: {{bits: {plan.bits}}} in the "
            "bench where the desktop is set that deep"
        )
