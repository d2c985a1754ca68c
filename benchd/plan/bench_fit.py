"""Can a bench run a plan? One answer for `plan --bench`, `run` and `submit`. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple, Protocol

from benchd.plan.measurement import plan_part
from benchd.plan.run_order import before_each, run_order, times_set
from benchd.plan.signal import range_fault, signal_fault
from benchd.plan.step import CENTRE, Step
from benchd.plan.sweep import sweep_faults

if TYPE_CHECKING:
    from benchd.plan.plan import Plan
    from benchd.profile.bench import Bench
    from benchd.profile.made_files import CorrectionFile
    from benchd.profile.reading.base import Wrong


class ScreenReport(Protocol):
    """What an open screen reports of itself, as far as a plan depends on it."""

    @property
    def name(self) -> str:
        """The output's name."""

    @property
    def signal(self) -> str:
        """What goes over the cable: ``sdr``, ``pq`` or ``hlg``."""

    @property
    def bits(self) -> int:
        """Bits per channel of the frame buffer."""

    @property
    def refresh_hz(self) -> float:
        """Pictures a second; 0: not known."""


class Fit(NamedTuple):
    """Whether a bench can run a plan."""

    refusals: tuple[str, ...]  # why not, a sentence each
    unknown: tuple[str, ...]  # what is known only of the open screen, a sentence each
    of_sweep: tuple[Wrong, ...] = ()  # what of its sweep the bench can't set, each with its place in the plan

    @property
    def fits(self) -> bool:
        """True when nothing speaks against it."""
        return not self.refusals and not self.of_sweep


def set_manually(plan: Plan, bench: Bench) -> tuple[str, ...]:
    """The controls of the plan's sweep that only the operator can set on this bench."""
    parts = {one.control: bench.controls.get(one.control) for one in plan.sweep}
    return tuple(name for name, part in parts.items() if part is not None and part.needs_operator)


def operator_needs(plan: Plan, steps: Sequence[Step], bench: Bench) -> list[str]:
    """What the operator must do during a run, a sentence each without its full stop; empty where the bench does all."""
    before = before_each(run_order(steps, manual_moves=bench.manual_moves), manual_moves=bench.manual_moves)
    found: list[str] = []
    moves = sum(one.moved for one in before)
    if bench.manual_moves and moves:
        blocks = dict.fromkeys(step.base for step in steps if step.at != CENTRE)
        found.append(
            f"the operator moves the meter {_times(moves)} ({', '.join(blocks)}); steps at the centre come first"
        )
    if swept := set_manually(plan, bench):
        found.append(f"the operator sets {', '.join(swept)} on the display {_times(times_set(before, swept))}")
    return found


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def fit(
    plan: Plan, bench: Bench, screen: ScreenReport | None, correction: CorrectionFile | None = None, today: str = ""
) -> Fit:
    """What ``bench`` can't do of ``plan``, and what can't be known yet.

    ``screen``: as it reports itself now, or as it did when it was last open; None: what the bench profile states of it
    counts. ``correction``: of the bench's meter, as of ``today`` (ISO 8601).
    """

    of_screen, unknown = _of_screen(plan, bench, screen)
    of_sync, unknown_sync = _of_sync(plan, bench, screen)
    of_correction = "" if correction is None else correction_fault(bench, correction, today)
    refusals = (of_screen, of_sync, of_correction, *_of_roles(plan, bench))
    of_sweep = sweep_faults(plan.sweep, bench.controls)
    return Fit(tuple(filter(None, refusals)), tuple(filter(None, (unknown, unknown_sync))), of_sweep)


def correction_fault(bench: Bench, correction: CorrectionFile, today: str) -> str:
    """Why a run must not begin with the bench's correction; "" when it may.

    Another display technology, another serial number than the bench's, a day that is past. A run that was begun goes
    on with its correction after that day, so that all its readings are of one kind.
    """
    unfit = correction.unfit_for(technology=bench.technology, today=today)
    if not unfit and bench.instruments.meter.serial_number is not None:
        unfit = correction.unfit(model=correction.meter.model, serial_number=bench.instruments.meter.serial_number)
    return unfit


def _of_screen(plan: Plan, bench: Bench, screen: ScreenReport | None) -> tuple[str, str]:
    """Another signal or range than the screen emits, or more bits than its frame buffer has; what is not known."""
    part = bench.screen
    reports = part.command is not None or part.connect is not None  # such a screen reports its signal when it is opened
    wanted = "sdr" if plan.signal is None else plan.signal.transfer
    if screen is not None:
        name, emits, bits = screen.name, screen.signal, screen.bits
    else:
        name = part.monitor or part.connect or f"of bench {bench.bench}"
        emits = part.signal or (wanted if reports else "sdr")
        bits = plan.bits if reports and "bits" not in part.model_fields_set else part.bits
    fault = signal_fault(plan.plan, wanted, plan.bits, name, emits, bits)
    fault = fault or range_fault(plan.plan, plan.code_range, name, part.range)
    if not fault and plan.bits > bits:
        depth = (
            f"bench {bench.bench} requires a frame buffer of {bits}"
            if screen is None
            else f"screen {name} shows {bits}"
        )
        fault = (
            f"plan {plan.plan} has codes of {plan.bits} bits and {depth}; set bits: {bits} in the plan, or "
            f"screen: {{bits: {plan.bits}}} in the bench where the desktop is set that deep"
        )
    missing = [
        what
        for what, needed, key in (("signal", wanted != "sdr", "signal"), ("bit depth", plan.bits > 8, "bits"))
        if screen is None and reports and needed and key not in part.model_fields_set
    ]
    return fault, _not_known(bench, " and ".join(missing)) if missing and not fault else ""


def _of_roles(plan: Plan, bench: Bench) -> Iterator[str]:
    """Instruments that blocks need and the bench lacks."""
    for block in plan.blocks:
        for role in plan_part(block.kind).roles:
            if getattr(bench.instruments, role, None) is None:
                yield (
                    f"block {block.name} needs the instrument {role}, and bench {bench.bench} has none; add it to the "
                    f"bench: instruments: {{{role}: ...}}"
                )


def _of_sync(plan: Plan, bench: Bench, screen: ScreenReport | None) -> tuple[str, str]:
    if plan.sync != "refresh" or (bench.flicker is not None and bench.flicker.refresh_hz):
        return "", ""
    if screen is None:
        return "", _not_known(bench, "refresh rate")
    if screen.refresh_hz:
        return "", ""
    return (
        f"plan {plan.plan} requires readings of whole frames (sync: refresh), and screen {screen.name} does not report "
        f"its refresh rate; state it in bench {bench.bench}, such as flicker: {{refresh_hz: 59.94}}, or sync: auto"
    ), ""


def _not_known(bench: Bench, what: str) -> str:
    return (
        f"the {what} of bench {bench.bench}'s screen is not known before it is opened; "
        f"benchd doctor --bench {bench.bench} opens it"
    )
