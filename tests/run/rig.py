"""A scripted rig for the sequencer's tests: parts that answer, or fail, by a list."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from benchd.clock import Deadline, StopRequest, VirtualClock
from benchd.errors import BenchdError
from benchd.instruments.control import By, SetOutcome
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest, Status
from benchd.patch.model import Patch, grey
from benchd.patch.model import field as full_field
from benchd.patch.screen import ScreenIdentity, Shown
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import CENTRE, Step
from benchd.profile.reading.values import Setting
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Record, fold
from benchd.run.rig import Event, Outcome
from benchd.run.sequencer import Sequencer
from tests.run.scene_rig import session_log

METER = MeterIdentity("SCRIPTED", "S-1", "1", "test", "nowhere", True, 0.001, 5000.0)
SCREEN = ScreenIdentity("test-1", 1920, 1080, 0, 0, 8, "none", "test", "test", True)

Failures = dict[int, BenchdError]
"""Which call (1 is the first) raises what."""


@dataclass
class ScriptedScreen:
    clock: VirtualClock
    failures: Failures = field(default_factory=dict)
    shown: list[tuple[float, Patch]] = field(default_factory=list)
    calls: int = 0

    def identify(self) -> ScreenIdentity:
        return SCREEN

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        self.calls += 1
        if self.calls in self.failures:
            raise self.failures[self.calls]
        self.shown.append((self.clock.now_s(), patch))
        return Shown(1920, 1080, "test-1", 8, "none", (), (), 0.0)

    def close(self) -> None:
        self.shown.append((self.clock.now_s(), full_field(grey(0))))


@dataclass
class ScriptedMeter:
    clock: VirtualClock
    failures: Failures = field(default_factory=dict)
    luminance: Callable[[ReadRequest], float] = lambda request: 100.0
    before: Callable[[int], None] = lambda call: None
    asked: list[ReadRequest] = field(default_factory=list)

    def identify(self) -> MeterIdentity:
        return METER

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        self.asked.append(request)
        self.before(len(self.asked))
        self.clock.sleep(0.2, StopRequest())
        if len(self.asked) in self.failures:
            raise self.failures[len(self.asked)]
        value = self.luminance(request)
        return Reading((0.95 * value, value, 1.09 * value), Status.OK, 0.2, "raw", 0.2)

    def close(self) -> None:
        pass


@dataclass
class ScriptedPositioner:
    by: str = "mover"
    failures: Failures = field(default_factory=dict)
    moves: list[str] = field(default_factory=list)

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        self.moves.append(place)
        if len(self.moves) in self.failures:
            raise self.failures[len(self.moves)]

    def close(self) -> None:
        pass


@dataclass
class ScriptedControl:
    """A control with a mind of its own: ``failures`` by the number of the set, ``drifts`` by the number of the read."""

    name: str
    value: Setting
    by: By = "ddc"
    settle_s: float = 1.5
    failures: Failures = field(default_factory=dict)
    drifts: dict[int, Setting] = field(default_factory=dict)
    sets: list[Setting] = field(default_factory=list)
    reads: int = 0

    def read(self, deadline: Deadline) -> Setting | None:
        self.reads += 1
        self.value = self.drifts.get(self.reads, self.value)
        return None if self.by == "operator" else self.value

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        self.sets.append(value)
        if len(self.sets) in self.failures:
            raise self.failures[len(self.sets)]
        self.value = value
        return SetOutcome(value, value, 0.1, self.by)

    def describe(self, deadline: Deadline) -> str:
        return str(self.value)


@dataclass
class ScriptedRig:
    clock: VirtualClock = field(default_factory=VirtualClock)
    screen: ScriptedScreen = field(init=False)
    meter: ScriptedMeter = field(init=False)
    positioner: ScriptedPositioner = field(default_factory=ScriptedPositioner)
    controls: dict[str, ScriptedControl] = field(default_factory=dict)
    reopened: list[str] = field(default_factory=list)
    reopen_failure: BenchdError | None = None

    def __post_init__(self) -> None:
        self.screen = ScriptedScreen(self.clock)
        self.meter = ScriptedMeter(self.clock)

    def reopen_meter(self) -> None:
        self.reopened.append("meter")
        if self.reopen_failure:
            raise self.reopen_failure

    def reopen_screen(self) -> None:
        self.reopened.append("screen")
        if self.reopen_failure:
            raise self.reopen_failure


def step(name: str, code: int = 255, at: tuple[float, float] = CENTRE, readings: int = 3, **more: object) -> Step:
    place = "centre" if at == CENTRE else name
    return Step(name, "block", "readings", full_field(grey(code)), {"name": name}, place, at, readings, **more)  # type: ignore[arg-type]


def run(
    path: Path,
    steps: Sequence[Step],
    rig: ScriptedRig,
    *,
    stop: StopRequest | None = None,
    warm_up: WarmUpLimits | None = None,
    watch: Callable[[Event], None] = lambda event: None,
    **more: Any,
) -> tuple[Outcome, list[Record]]:
    """One session: a new log, or the next session of an existing one."""
    with session_log(path, rig.clock) as (out, state):
        outcome = Sequencer(steps, state, rig, out, stop or StopRequest(), warm_up, watch=watch, **more).run()
    records = list(LogFile(path).records())
    assert fold(records) == state, "the state in memory is the state on disk"
    return outcome, records
