"""Sessions over the simulated scene in this process: the real loop and the real log, no child processes.

A test can stop the meter between two readings, make parts fail, and let a hand move the meter.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

from benchd.clock import Deadline, StopRequest
from benchd.daemon.attempt import Sessions
from benchd.daemon.folders import places
from benchd.daemon.hooks import Hooks, Message
from benchd.daemon.job_control import Snapshot, Submission
from benchd.daemon.notify import Notifier
from benchd.daemon.queue import Disk, Queue
from benchd.daemon.service import Service
from benchd.errors import BenchdError
from benchd.instruments.control import Ask as AskToSet
from benchd.instruments.meter import Reading, ReadRequest
from benchd.measuring_conditions import Value
from benchd.plan.estimate import planned_seconds
from benchd.plan.time_left import TimeLeft
from benchd.profile import profile_store as library
from benchd.profile.bench import Timing
from benchd.run.bench.attended import Ask, AttendedPositioner, ManualPositioner
from benchd.run.bench.open_bench import OpenBench
from benchd.run.bench.recorded_conditions import Entered
from benchd.run.job import BenchJob, Document, PlanJob, jobs_from_log
from benchd.run.log import journal
from benchd.run.log.records import RunState, advance
from benchd.run.operator_checks import Confirm, Operator
from benchd.run.rig import Outcome
from benchd.run.sequencer import Sequencer
from benchd.run.session import Observer, started_body
from sim.inprocess import SceneClock, SimMeter, SimPositioner, SimScreen, scene_of

WITHIN_S = 60.0
"""What is awaited comes, and is not waited for longer than that takes; so this may be long."""
QUICK = (library.profiles_folder() / "plans" / "quick.yaml").read_text()

GRID = """\
plan: grid
target: srgb
warm_up: none
settle_s: 1
readings: 1
blocks:
  - luminance: {}
  - uniformity: {grid: 2x1, levels_percent: [100]}
"""
"""Moves the meter to two places after it has measured at the centre."""


@dataclass
class Scene:
    """A bench in this process. What is set here takes effect at the next reading, or the next opening."""

    by_hand: bool = False
    panel: str = "lcd"
    shown_manually: bool = False  # the operator shows the patches, on a source without a window
    not_ready: BenchdError | OSError | None = None  # raised instead of opening
    failure: BaseException | None = None  # raised by every reading
    before_reading: Callable[[int], None] = lambda number: None
    opened: int = 0
    readings: int = 0
    moves: list[str] = field(default_factory=list)
    entered: dict[str, Value] = field(default_factory=dict)
    ask_to_set: AskToSet | None = None  # what the last session was given
    ask_to_show: AskToSet | None = None
    confirm: Confirm | None = None

    def bench(self, name: str) -> BenchJob:
        stage = "" if self.by_hand else ", stage: {command: [mover]}"
        text = (
            f"bench: scene\nsimulated: true\nscreen: {{monitor: primary}}\n"
            f"instruments: {{meter: {{command: [meter]}}{stage}}}\n"
        )
        return BenchJob({"bench": Document("scene", "scene.yaml", text)}, library.load_bench(text, "scene.yaml"))

    def start(
        self,
        job: PlanJob,
        bench: BenchJob,
        log: Path,
        operator: Operator,
        observer: Observer,
        *,
        sample: str,
        note: str,
        entered: Mapping[str, Entered],
    ) -> Outcome:
        self._given(operator)
        rig = self._open(operator.ask)
        out = journal.create(log, rig.clock, "first")
        state = RunState()
        try:
            self.entered = {key: one.value for key, one in entered.items()}
            who = {"meter": asdict(rig.meter.identify()), "screen": asdict(rig.screen.identify()), "simulated": True}
            body = started_body(job, bench, sample, note, {**who, "virtual_time": True})
            advance(state, out.append("started", body=body))
            return self._run(job, rig, out, state, operator.stop, observer)
        finally:
            out.close()

    def resume(self, log: Path, operator: Operator, observer: Observer) -> Outcome:
        self._given(operator)
        rig = self._open(operator.ask)
        out, state, _ = journal.reopen(log, rig.clock, "next")
        try:
            assert state.started is not None
            job, _ = jobs_from_log(state.started.body, str(log))
            advance(state, out.append("resumed", body={}))
            return self._run(job, rig, out, state, operator.stop, observer)
        finally:
            out.close()

    def _given(self, operator: Operator) -> None:
        self.ask_to_set, self.ask_to_show, self.confirm = operator.ask_to_set, operator.ask_to_show, operator.confirm

    def _open(self, ask: Ask) -> Any:
        if self.not_ready is not None:
            raise self.not_ready
        self.opened += 1
        scene = scene_of()
        meter = _Meter(scene)
        meter.told = self

        def asked(place: str, at: tuple[float, float]) -> None:
            ask(place, at)
            self.moves.append(place)
            scene.move(*at)

        return SimpleNamespace(
            clock=SceneClock(scene),
            screen=SimScreen(scene),
            meter=meter,
            positioner=AttendedPositioner(ManualPositioner(asked) if self.by_hand else SimPositioner(scene), asked),
            controls={},
            time_left=_time_left,
            simulated=True,
            panel=self.panel,
            shown_manually=self.shown_manually,
            reopen_meter=lambda: None,
            reopen_screen=lambda: None,
        )

    def _run(
        self, job: PlanJob, rig: Any, out: journal.Journal, state: RunState, stop: StopRequest, observer: Observer
    ) -> Outcome:
        observer.opened(cast(OpenBench, rig), job, state)
        return Sequencer(job.steps, state, rig, out, stop, job.plan.warm_up.limits, watch=observer.event).run()


def _time_left(job: PlanJob, state: RunState) -> TimeLeft:
    planned_s = planned_seconds(job.steps, Timing(), job.plan, manual_moves=True, precise_s={})
    return TimeLeft(job.steps, planned_s, job.plan.warm_up.limits, {*state.done, *state.skipped})


class _Meter(SimMeter):
    told: Scene

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        self.told.readings += 1
        self.told.before_reading(self.told.readings)
        if self.told.failure is not None:
            raise self.told.failure
        return super().read(request, deadline)


class Gate:
    """Stops the meter before one reading until it is opened."""

    def __init__(self, scene: Scene, at: int) -> None:
        self.reached, self.open = threading.Event(), threading.Event()
        self._at = at
        scene.before_reading = self._before

    def _before(self, number: int) -> None:
        if number == self._at:
            self.reached.set()
            assert self.open.wait(WITHIN_S)

    def wait(self) -> None:
        assert self.reached.wait(WITHIN_S), "the meter was not read so often"


class RecordingHooks(Hooks):
    """Hooks that only remember."""

    def __init__(self) -> None:
        super().__init__()
        self.messages: list[Message] = []

    def call(self, message: Message) -> None:
        self.messages.append(message)

    @property
    def events(self) -> list[tuple[object, object]]:
        return [(one["event"], one["job"]) for one in self.messages]


class House:
    """A service over a scene, its loop in a thread (its main thread, as far as it knows)."""

    def __init__(self, folder: Path, scene: Scene | None = None, disk: Disk | None = None, **more: Any) -> None:
        self.scene = scene or Scene()
        self.told = RecordingHooks()
        self.places = places("scene", folder, folder / "logs")
        self.queue = Queue(self.places.queue, disk)
        more.setdefault("notifier", Notifier())
        sessions = Sessions(self.scene.start, self.scene.resume, self.scene.bench)
        self.service = Service("scene", self.places, self.queue, hooks=self.told, sessions=sessions, **more)
        self._thread = threading.Thread(target=self.service.run_forever, daemon=True)

    def __enter__(self) -> House:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def end(self) -> None:
        """Ask it to stop and see that it does."""
        self.service.stop("SIGTERM")
        self._thread.join(WITHIN_S)
        assert not self._thread.is_alive(), "the service hangs"

    def wait(self, what: Callable[[Snapshot], bool]) -> Snapshot:
        """The first snapshot of which ``what`` is true."""
        deadline = Deadline.after(WITHIN_S)
        snapshot = self.service.snapshot()
        while not what(snapshot):
            assert not deadline.passed, f"still {snapshot.doing}: {snapshot.why}; {states(snapshot)}"
            snapshot = self.service.wait_for_change(snapshot.number, 0.2)
        return snapshot

    def wait_for(self, **wanted: str) -> Snapshot:
        """``wait_for(j1="complete")``: until those jobs are in those states."""
        return self.wait(lambda snapshot: wanted.items() <= states(snapshot).items())


def states(snapshot: Snapshot) -> Mapping[str, str]:
    """Every job's state by its id."""
    jobs = (*((snapshot.job,) if snapshot.job else ()), *snapshot.queue)
    return {job.id: job.state.value for job in jobs}


def quick(**more: Any) -> Submission:
    """A submission of the plan `quick`."""
    return replace(Submission("quick.yaml", QUICK), **more)


def grid(**more: Any) -> Submission:
    """A submission that needs the meter moved."""
    return replace(Submission("grid.yaml", GRID), **more)


def make_bench(by_hand: bool = True) -> BenchJob:
    """The bench of a scene."""
    return Scene(by_hand=by_hand).bench("scene")
