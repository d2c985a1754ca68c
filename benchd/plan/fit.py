"""Does a plan fit a bench? What can be told from the two files alone, before anything is opened. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from benchd.plan.signal import range_fault, signal_fault

if TYPE_CHECKING:
    from benchd.plan.bench import Bench
    from benchd.plan.model import Plan


def set_by_hand(plan: Plan, bench: Bench) -> tuple[str, ...]:
    """The controls of the plan's sweep that only a hand can set on this bench."""
    parts = {one.control: bench.controls.get(one.control) for one in plan.sweep}
    return tuple(name for name, part in parts.items() if part is not None and part.needs_hand)


def unfit(plan: Plan, bench: Bench) -> tuple[str, ...]:
    """Why the bench can't run the plan, a sentence each; empty when nothing speaks against it.

    Another signal or range than its screen emits, more bits than its frame buffer has, a control or a value to sweep
    that it does not have. A command that stands in for the screen says itself what it can show, once it is started.
    """
    from benchd.plan.controls import sweep_faults  # a bench has loaded them; a plan alone needs them not

    screen = bench.screen
    wanted = "sdr" if plan.signal is None else plan.signal.transfer
    says_itself = screen.signal is None and (screen.command is not None or screen.connect is not None)
    emits = wanted if says_itself else screen.signal or "sdr"
    name = screen.monitor or screen.connect or f"of bench {bench.bench}"
    depth = ""
    if screen.monitor is not None and plan.bits > screen.bits:
        depth = (
            f"plan {plan.plan} has codes of {plan.bits} bits and bench {bench.bench} asks for a frame buffer of "
            f"{screen.bits}; set bits: {screen.bits} in the plan, or screen: {{bits: {plan.bits}}} in the bench where "
            "the desktop is set that deep"
        )
    of_signal = signal_fault(plan.plan, wanted, plan.bits, name, emits, plan.bits)
    of_range = range_fault(plan.plan, plan.code_range, name, screen.range)
    first = next((fault for fault in (of_signal, of_range, depth) if fault), "")
    return (*((first,) if first else ()), *sweep_faults(plan.sweep, bench.controls))
