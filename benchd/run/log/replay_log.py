"""A log run again: the recorded readings are the meter, and time does not pass.

A replay proves that the log holds everything that its results rest on. Bench time, sessions, moves and settings are
those of the log (`benchd.run.log.recorded`). The faults and pauses of the first run are not played again; readings of
attempts that did not count are never used.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from benchd.clock import Deadline, StopRequest, VirtualClock
from benchd.instruments.control import SetOutcome
from benchd.instruments.meter import MeterIdentity, Reading
from benchd.instruments.replay_meter import ReplayMeter
from benchd.patch.model import Patch
from benchd.patch.screen import Screen, ScreenIdentity, Shown
from benchd.plan.estimate import working_s
from benchd.plan.step import Step
from benchd.profile.reading.values import Setting
from benchd.run.adaptive.interface import Read
from benchd.run.job import jobs_from_log
from benchd.run.light_monitor import ReferenceCheck
from benchd.run.log import journal
from benchd.run.log.recorded import CountedStep, ScriptLog, read_script, seconds, step_of
from benchd.run.log.records import Body, RunState, advance
from benchd.run.procedures.warm_up import ahead_min
from benchd.run.rig import Outcome
from benchd.run.sequencer import Sequencer


class RecordedScreen:
    """A screen that shows nothing and answers as the one in the log."""

    def __init__(self, identity: ScreenIdentity) -> None:
        self._identity = identity

    def identify(self) -> ScreenIdentity:
        return self._identity

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        own = self._identity
        return Shown(own.width, own.height, own.name, own.bits, "recorded", (), (), 0.0)

    def close(self) -> None:
        """Nothing to let go of."""


class RecordedMoves:
    """A positioner whose moves were all made when the log was written."""

    by = "recorded"

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Nothing moves."""

    def close(self) -> None:
        """Nothing to let go of."""


class RecordedControl:
    """A control of the display that was set when the log was written."""

    settle_s = 0.0

    def __init__(self, name: str) -> None:
        self.name = name

    def read(self, deadline: Deadline) -> Setting | None:
        """Nothing is there to be read."""
        return None

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """It was set then."""
        return SetOutcome(value, value, 0.0, "command")

    def describe(self, deadline: Deadline) -> str:
        """For the protocol."""
        return "recorded"


@dataclass(slots=True)
class ReplayRig:
    """The sequencer's `Rig`, made of a log."""

    clock: VirtualClock
    screen: Screen
    meter: ReplayMeter
    positioner: RecordedMoves
    controls: Mapping[str, RecordedControl] = field(default_factory=dict)

    def reopen_meter(self) -> None:
        """A recorded meter is always there."""

    def reopen_screen(self) -> None:
        """A recorded screen is always there."""


class RecordedPrecision:
    """Steps that were read to a precision, as they were: the log states which readings count."""

    def __init__(self, steps: Mapping[str, CountedStep]) -> None:
        self._steps = steps

    def lead_in(self, index: int) -> None:
        """Nothing is on a screen."""

    def read(
        self, step: Step, index: int, read: Read, settled: Callable[[Body], None], sleep: Callable[[float], None]
    ) -> tuple[list[Reading], Body]:
        """All readings again; those after the last ``settled`` count."""
        counted = self._steps[step.id]
        readings: list[Reading] = []
        for number in range(1, len(counted.readings) + 1):
            readings.append(read(step, number))
            if number in counted.settled:
                settled(counted.settled[number])
                readings = []
        return readings, {"precision": counted.precision}

    def check(self, step: Step, *how: object) -> ReferenceCheck:
        """No reference check is part of a replay."""
        raise LookupError(step.id)

    def characterised_s(self, *lesson: object) -> float:
        """The characterisation is in the warm-up's ``done``."""
        return 0.0

    def warmed(self, step: str, luminance_cd_m2: float) -> Body:
        """As it was."""
        precision = self._steps[step].precision
        return {} if precision is None else {"precision": precision}


def replay(log: Path, target: Path) -> Outcome:
    """Run the plan of ``log`` again into the new log ``target``; only steps that are done in ``log``.

    Sessions, moves of the meter, settings and bench time are those of ``log``. Raises `LogRefused` for a damaged log or
    one with no step done.
    """
    script = read_script(log)
    assert script.started is not None  # a log without it is refused as it is read
    started = script.started.body
    job, bench_job = jobs_from_log(started, str(log))
    plan = {step.id: step for step in job.steps}
    steps = tuple(step_of(name, counted, plan, str(log)) for name, counted in script.steps.items())
    clock = VirtualClock(seconds(script.started.mono_ns))
    identity = MeterIdentity(**started["meter"])
    screen = RecordedScreen(ScreenIdentity(**started["screen"]))
    controls = {swept.control: RecordedControl(swept.control) for swept in job.plan.sweep}
    readings = {name: counted.readings for name, counted in script.steps.items()}
    rig = ReplayRig(clock, screen, ReplayMeter(identity, readings), RecordedMoves(), controls)
    out = journal.create(target, clock, script.started.session)
    try:
        state = RunState(attempts={name: counted.attempt - 1 for name, counted in script.steps.items()})
        body = {**started, "virtual_time": True, "replay_of": str(log)}
        advance(state, out.append("started", body=body))
        precise = RecordedPrecision(script.steps)
        log_of_it = ScriptLog(script, out, clock)
        ahead, limits = ahead_min(working_s(job.steps, bench_job.bench.timing)), job.plan.warm_up.limits
        return Sequencer(
            steps,
            state,
            rig,
            log_of_it,
            StopRequest(),
            limits,
            ahead_min=ahead,
            as_listed=True,
            adaptive=precise,
        ).run()
    finally:
        out.close()
