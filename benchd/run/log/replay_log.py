"""A log run again: the recorded readings are the meter, and time does not pass.

A replay proves that the log holds everything that its results rest on. A log is a script: the steps that count, in
their order, with the bench time of each of their records and what happened at the bench before them. Sessions begun,
moves of the meter and settings of the display decide how uncertain a figure is (a resume puts the meter on its place
anew; drift is known within a session only), so a replay has them where the log has them. The faults and pauses of the
first run are not played again; readings of attempts that did not count are never used.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from math import inf, nextafter
from pathlib import Path

from benchd.clock import Clock, Deadline, StopRequest, VirtualClock
from benchd.errors import LogRefused
from benchd.instruments.control import SetOutcome
from benchd.instruments.meter import Meter, MeterIdentity, Reading, Status
from benchd.instruments.positioner import Positioner
from benchd.instruments.virtual_meters import ReplayMeter
from benchd.patch.model import Patch
from benchd.patch.screen import Screen, ScreenIdentity, Shown
from benchd.plan.estimate import working_s
from benchd.plan.step import Step
from benchd.profile.reading.values import Setting
from benchd.run.adaptive.interface import Read
from benchd.run.job import jobs_from_log
from benchd.run.light_monitor import ReferenceCheck
from benchd.run.log import journal
from benchd.run.log.bodies import what_of
from benchd.run.log.journal import Journal, LogFile
from benchd.run.log.records import CONSECUTIVE, Body, Record, RunState, advance
from benchd.run.procedures.warm_up import ahead_min
from benchd.run.rig import Outcome
from benchd.run.sequencer import Sequencer

BENCH_KINDS = ("resumed", "moved", "set", "skipped", "confirmation")
"""Records of what happened at the bench, whatever step it was for."""


@dataclass(slots=True)
class CountedStep:
    """One step with the attempt that counts.

    ``shown``: that record; ``times``: `mono_ns` of its records by their kind, in order; ``settled``: readings taken
    before each `settled`, and that record's body; ``precision``: what `done` states of a step that was read to one.
    """

    attempt: int
    shown: Record | None = None
    readings: list[Reading] = field(default_factory=list)
    times: dict[str, deque[int]] = field(default_factory=dict)
    settled: dict[int, Body] = field(default_factory=dict)
    precision: Body | None = None


@dataclass(slots=True)
class Script:
    """What a log holds for a replay: its head, the steps that count in the order they were done, the bench."""

    started: Record | None = None
    steps: dict[str, CountedStep] = field(default_factory=dict)
    bench: list[Record] = field(default_factory=list)


def script_of(records: Iterable[Record]) -> Script:
    """One pass over the records. Readings of attempts that did not count are not in it."""
    script = Script()
    open_steps: dict[str, CountedStep] = {}
    for record in records:
        kind, step = record.kind, record.step
        if kind == "started":
            script.started = record
        elif kind in BENCH_KINDS:
            script.bench.append(record)
        elif kind == "invalidated":
            for invalid in record.body["steps"]:
                script.steps.pop(invalid, None)
        elif kind in ("shown", "reading", "settled", "done"):
            found = open_steps.get(step)
            if found is None or found.attempt != record.attempt:
                found = open_steps[step] = CountedStep(record.attempt)
            found.times.setdefault(kind, deque()).append(record.mono_ns)
            if kind == "shown":
                found.shown = record
            elif kind == "reading":
                found.readings.append(_reading(record.body))
            elif kind == "settled":
                found.settled[len(found.readings)] = record.body
            else:
                found.precision = record.body.get("precision")
                script.steps[step] = open_steps.pop(step)
    return script


def step_of(name: str, counted: CountedStep, plan: Mapping[str, Step], log: str) -> Step:
    """The plan's step of that name, or the one that was read again under it: a warm-up or a reference after a pause.

    Raises `LogRefused`: the plan has no such patch.
    """
    if name in plan:
        return plan[name]
    shown = counted.shown.body if counted.shown is not None else {}
    if (again := next((step for step in plan.values() if _same_patch(step, shown)), None)) is None:
        raise LogRefused(log, 0, f"step {name} is none of its plan's, so there is nothing that it could be replayed as")
    return replace(again, id=name, procedure="consecutive" if name == CONSECUTIVE else again.procedure)


def _same_patch(step: Step, shown: Body) -> bool:
    wanted = json.loads(json.dumps(what_of(step)))
    return all(shown.get(key) == wanted[key] for key in ("block", "patch", "place", "at"))


class ScriptLog:
    """The log of a replay, behind the sequencer: its records have the session and the bench time of the script.

    Before a step's `shown` comes what happened at the bench since the step before. What the sequencer itself would
    write of that is left out: in a replay nothing is moved and nothing is set.
    """

    def __init__(self, script: Script, log: Journal, clock: VirtualClock) -> None:
        self._script, self._log, self._clock = script, log, clock
        self._bench = deque(script.bench)

    def append(self, kind: str, step: str = "", attempt: int = 0, body: Body | None = None) -> Record:
        """As `Journal.append`; a `moved` or `set` is returned and not written."""
        if kind in BENCH_KINDS:
            return Record(0, "", "", 0, kind, step, attempt, body or {})
        counted = self._script.steps.get(step)
        if counted is not None and kind == "shown" and counted.shown is not None:
            self._bench_until(counted.shown.seq)
            self._log.session = counted.shown.session
        if counted is not None and (times := counted.times.get(kind)):
            self._clock.set(seconds(times.popleft()))
        if kind == "ended":
            self._bench_until(inf)
        return self._log.append(kind, step, attempt, body)

    def _bench_until(self, seq: float) -> None:
        while self._bench and self._bench[0].seq < seq:
            self._log.copy(self._bench.popleft())


def seconds(mono_ns: int) -> float:
    """The bench time that a log keeps as ``mono_ns``: whole nanoseconds, cut."""
    found = mono_ns / 1e9
    while int(found * 1e9) < mono_ns:
        found = nextafter(found, inf)
    while int(found * 1e9) > mono_ns:
        found = nextafter(found, -inf)
    return found


def read_script(log: Path) -> Script:
    """The script of a log. Raises `LogRefused` for a damaged log or one with no step done."""
    script = script_of(LogFile(log).records())
    if not script.steps:
        raise LogRefused(str(log), 0, "no step is done in this log, so there is nothing to replay")
    return script


def _reading(body: Body) -> Reading:
    xyz, uncorrected = body["xyz"], body.get("xyz_uncorrected")
    return Reading(
        (xyz[0], xyz[1], xyz[2]) if xyz else None,
        Status(body["status"]),
        body["integration_s"],
        body["raw"],
        body["elapsed_s"],
        body.get("after_s"),
        (uncorrected[0], uncorrected[1], uncorrected[2]) if uncorrected else None,
    )


@dataclass(frozen=True, slots=True)
class RecordedScreen:
    """A screen that shows nothing and answers as the one in the log."""

    identity: ScreenIdentity

    def identify(self) -> ScreenIdentity:
        return self.identity

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        own = self.identity
        return Shown(own.width, own.height, own.name, own.bits, "recorded")

    def close(self) -> None:
        """Nothing to let go of."""


class RecordedMoves:
    """A positioner whose moves were all made when the log was written."""

    by = "recorded"

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Nothing moves."""

    def close(self) -> None:
        """Nothing to let go of."""


@dataclass(slots=True)
class RecordedControl:
    """A control of the display that was set when the log was written."""

    name: str
    settle_s: float = 0.0

    def read(self, deadline: Deadline) -> Setting | None:
        return None

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        return SetOutcome(value, value, 0.0, "command")

    def describe(self, deadline: Deadline) -> str:
        return "recorded"


@dataclass(slots=True)
class ReplayRig:
    """The sequencer's `Rig`, made of a log."""

    clock: Clock
    screen: Screen
    meter: Meter
    positioner: Positioner
    controls: Mapping[str, RecordedControl] = field(default_factory=dict)

    def reopen_meter(self) -> None:
        """A recorded meter is always there."""

    def reopen_screen(self) -> None:
        """A recorded screen is always there."""


@dataclass(frozen=True, slots=True)
class RecordedPrecision:
    """Steps that were read to a precision, as they were: the log states which readings count."""

    steps: Mapping[str, CountedStep]

    def lead_in(self, index: int) -> None:
        """Nothing is on a screen."""

    def read(
        self, step: Step, index: int, read: Read, settled: Callable[[Body], None], sleep: Callable[[float], None]
    ) -> tuple[list[Reading], Body]:
        """All readings again; those after the last ``settled`` count."""
        counted = self.steps[step.id]
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

    def characterised_s(self, *arguments: object) -> float:
        """The characterisation is in the warm-up's ``done``."""
        return 0.0

    def warmed(self, step: str, luminance_cd_m2: float) -> Body:
        precision = self.steps[step].precision
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
    with closing(journal.create(target, clock, script.started.session)) as out:
        state = RunState(attempts={name: counted.attempt - 1 for name, counted in script.steps.items()})
        advance(state, out.append("started", body={**started, "virtual_time": True, "replay_of": str(log)}))
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
