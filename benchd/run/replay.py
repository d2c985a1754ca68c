"""A log run again: the recorded readings are the meter, and time does not pass.

A replay proves that the log holds everything that its results rest on. The faults and pauses of the
first run are not played again; readings of attempts that did not count are never used.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from benchd.clock import Deadline, StopRequest, VirtualClock
from benchd.errors import LogRefused
from benchd.instruments.control import SetOutcome
from benchd.instruments.meter import MeterIdentity, Reading, Status
from benchd.instruments.replay_meter import ReplayMeter
from benchd.patch.model import Patch
from benchd.patch.screen import Screen, ScreenIdentity, Shown
from benchd.plan.step import Step
from benchd.plan.sweep import Setting
from benchd.run import journal
from benchd.run.job import jobs_from_log
from benchd.run.journal import LogFile
from benchd.run.precise import Read
from benchd.run.records import Body, Record, RunState, advance
from benchd.run.rig import Outcome
from benchd.run.sequencer import Sequencer
from benchd.run.session import new_session
from benchd.run.witness import Check


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


def recorded_readings(records: Iterable[Record]) -> tuple[Body, dict[str, list[Reading]]]:
    """The body of the first record, and for each done step the readings that count."""
    started: Body = {}
    pending: dict[tuple[str, int], list[Reading]] = {}
    done: dict[str, list[Reading]] = {}
    for record in records:
        if record.kind == "started":
            started = record.body
        elif record.kind == "reading":
            pending.setdefault((record.step, record.attempt), []).append(_reading(record.body))
        elif record.kind == "done":
            done[record.step] = pending.pop((record.step, record.attempt), [])
        elif record.kind == "doubted":
            for step in record.body["steps"]:
                done.pop(step, None)
    return started, done


class RecordedPrecision:
    """Steps that were read to a precision, as they were: the log says which readings count."""

    def __init__(self) -> None:
        self.settled: dict[tuple[str, int], list[tuple[int, Body]]] = {}  # readings taken before, and the record
        self.taken: dict[tuple[str, int], int] = {}
        self.done: dict[str, tuple[int, Body]] = {}  # attempt that counts, and its precision

    def lead_in(self, index: int) -> None:
        """Nothing is on a screen."""

    def read(
        self, step: Step, index: int, read: Read, settled: Callable[[Body], None], sleep: Callable[[float], None]
    ) -> tuple[list[Reading], Body]:
        """All readings again; those after the last ``settled`` count."""
        attempt, precision = self.done[step.id]
        marks = dict(self.settled.get((step.id, attempt), ()))
        readings: list[Reading] = []
        for number in range(1, self.taken.get((step.id, attempt), 0) + 1):
            readings.append(read(step, number))
            if number in marks:
                settled(marks[number])
                readings = []
        return readings, {"precision": precision}

    def check(self, step: Step, *how: object) -> Check:
        """No reference check is part of a replay."""
        raise LookupError(step.id)

    def taught_s(self, *lesson: object) -> float:
        """What was taught is in the warm-up's ``done``."""
        return 0.0

    def warmed(self, step: str, luminance_cd_m2: float) -> Body:
        """As it was."""
        return {"precision": self.done[step][1]} if step in self.done else {}


def recorded_precision(records: Iterable[Record]) -> RecordedPrecision:
    """What a log says of its steps that were read to a precision."""
    found = RecordedPrecision()
    for record in records:
        key = (record.step, record.attempt)
        if record.kind == "reading":
            found.taken[key] = found.taken.get(key, 0) + 1
        elif record.kind == "settled":
            found.settled.setdefault(key, []).append((found.taken.get(key, 0), record.body))
        elif record.kind == "done" and "precision" in record.body:
            found.done[record.step] = (record.attempt, record.body["precision"])
    return found


def replay(log: Path, target: Path) -> Outcome:
    """Run the plan of ``log`` again into the new log ``target``; only steps that are done in ``log``.

    Raises `LogRefused` for a damaged log or one with no step done.
    """
    started, readings = recorded_readings(LogFile(log).records())
    if not readings:
        raise LogRefused(str(log), 0, "no step is done in this log, so there is nothing to replay")
    job, _ = jobs_from_log(started, str(log))
    steps = tuple(step for step in job.steps if step.id in readings)
    clock = VirtualClock()
    identity = MeterIdentity(**started["meter"])
    screen = RecordedScreen(ScreenIdentity(**started["screen"]))
    controls = {swept.control: RecordedControl(swept.control) for swept in job.plan.sweep}
    rig = ReplayRig(clock, screen, ReplayMeter(identity, readings), RecordedMoves(), controls)
    out = journal.create(target, clock, new_session())
    try:
        state = RunState()
        body = {**started, "virtual_time": True, "replay_of": str(log)}
        advance(state, out.append("started", body=body))
        precise = recorded_precision(LogFile(log).records())
        return Sequencer(steps, state, rig, out, StopRequest(), job.plan.warm_up.limits, precise=precise).run()
    finally:
        out.close()


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
