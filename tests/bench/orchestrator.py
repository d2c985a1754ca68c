"""benchd's loop beside a general experiment orchestrator: bluesky's RunEngine, over the same simulated parts.

Both do the same with the same screen and the same meter (numbers in this process, which answer at once): show
the patch, read three times, show the patch again to see that it is still there. Each keeps what it reads as JSON
lines, with and without fsync; the orchestrator also with nobody who listens. In turn, in one run.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Generator, Iterator
from importlib.util import find_spec
from pathlib import Path
from time import perf_counter, time
from typing import Any

from benchd.clock import Deadline, StopRequest
from benchd.instruments.meter import Meter, ReadRequest
from benchd.patch.model import Patch
from benchd.patch.screen import Screen
from benchd.plan.safety import is_alternation
from benchd.plan.step import Step
from benchd.run.log.journal import Journal
from benchd.run.log.records import RunState, advance
from benchd.run.plausible import Bounds
from benchd.run.rig import READ_WITHIN_S, SHOW_WITHIN_S
from benchd.run.sequencer import Sequencer
from sim.inprocess import SimMeter, SimScreen, scene_of
from tests.bench.figures import Figure, Settings, ms, not_measured, tell
from tests.bench.step import patches
from tests.bench.stopwatch import Spoiled, Stopwatch, TimedRig

NAME = "orchestrator"
ROUNDS = 4
READINGS = 3

Sync = Callable[[int], None]
Lapped = Callable[[list[Step], Path], list[float]]
"""Runs the steps, keeps what it must in the file, and returns the seconds of each step but the last."""


def orchestrator(settings: Settings) -> Iterator[Figure]:
    """Time of a step of both."""
    if find_spec("bluesky") is None:
        yield not_measured(NAME, "install the extra bench")
        return
    scene = scene_of()
    screen, meter = SimScreen(scene), SimMeter(scene, instant=True)
    engine = _Engine(screen, meter)
    ways: dict[str, Lapped] = {
        "benchd, no fsync": lambda steps, path: _benchd(screen, meter, steps, path, _no_sync),
        "RunEngine, nothing kept": lambda steps, path: engine.run(steps, None, _no_sync),
        "RunEngine, no fsync": lambda steps, path: engine.run(steps, path, _no_sync),
        "benchd, fsync": lambda steps, path: _benchd(screen, meter, steps, path, os.fsync),
        "RunEngine, fsync": lambda steps, path: engine.run(steps, path, os.fsync),
    }
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for number in range(ROUNDS):
        steps = patches(60 if settings.quick else 250, READINGS, number)
        for step in steps:  # the simulation's own work is done beforehand
            screen.show(step.patch, Deadline.after(SHOW_WITHIN_S))
            meter.read(ReadRequest(step.id, 1), Deadline.after(READ_WITHIN_S))
        for name, run in ways.items():
            is_alternation.cache_clear()
            path = settings.folder / "orchestrator.log"
            taken[name] += run(steps, path)
            path.unlink(missing_ok=True)
        tell(f"{NAME}: round {number + 1} of {ROUNDS}")
    yield from _figures({name: ms(laps_s) for name, laps_s in taken.items()}, len(taken["benchd, fsync"]), engine)


def _figures(found_ms: dict[str, float], steps: int, engine: _Engine) -> Iterator[Figure]:
    where = (
        f"medians of {steps} steps of {READINGS} readings; screen and meter are SIMULATED: numbers in this process",
        f"bluesky {engine.version}; devices that are done at once; one event a reading",
        "beside that, benchd judges each reading, folds the state of its run and puts a check sum on each line; the "
        "RunEngine makes a message of each action and passes it through an event loop in a thread of its own",
    )
    pairs = {
        "benchd, no fsync": "RunEngine, no fsync",
        "benchd, fsync": "RunEngine, fsync",
        "RunEngine, nothing kept": "benchd, fsync",
    }
    against = {
        "RunEngine, no fsync": "the RunEngine with every document as a JSON line in a file, no fsync",
        "RunEngine, fsync": "the RunEngine with every document as a JSON line in a file and one fsync each",
        "benchd, fsync": "benchd as it always is: a record a line, each with fsync",
    }
    for mine, its in pairs.items():
        yield Figure(f"step, {mine}", found_ms[mine], "ms", found_ms[its], against[its], notes=where)


def _no_sync(descriptor: int) -> None:
    """Left out."""


def _benchd(screen: Screen, meter: Meter, steps: list[Step], path: Path, sync: Sync) -> list[float]:
    watch = Stopwatch()
    rig = TimedRig(screen, meter, watch)
    who = meter.identify()
    bounds = Bounds(who.floor_cd_m2, who.ceiling_cd_m2)
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o644)
    journal = Journal(path, descriptor, "bench", rig.clock, 0, 0, sync=sync)
    try:
        state = RunState()
        advance(state, journal.append("started"))
        outcome = Sequencer(steps, state, rig, journal, StopRequest(), bounds=bounds, watch=watch.watch).run()
        if not outcome.complete:
            raise Spoiled(outcome.why)
    finally:
        journal.close()
    return [lap["step"] for lap in watch.laps]


class _Done:
    """What a device of the orchestrator returns for an action that is over already (bluesky.protocols.Status)."""

    done = success = True

    def add_callback(self, callback: Callable[[Any], None]) -> None:
        callback(self)

    def exception(self, timeout: float | None = 0.0) -> BaseException | None:
        return None


class _Display:
    """The screen as a device to be set (bluesky.protocols.Movable)."""

    name, parent = "display", None

    def __init__(self, screen: Screen) -> None:
        self._screen = screen

    def set(self, patch: Patch) -> _Done:
        self._screen.show(patch, Deadline.after(SHOW_WITHIN_S))
        return _Done()


class _Light:
    """The meter as a detector to be triggered and read (bluesky.protocols.Triggerable, Readable)."""

    name, parent = "light", None

    def __init__(self, meter: Meter) -> None:
        self._meter = meter
        self._found: dict[str, Any] = {}

    def trigger(self) -> _Done:
        reading = self._meter.read(ReadRequest("", 1), Deadline.after(READ_WITHIN_S))
        values = {"xyz": list(reading.xyz or ()), "status": reading.status.value, "raw": reading.raw}
        self._found = {f"light_{key}": {"value": value, "timestamp": time()} for key, value in values.items()}
        return _Done()

    def read(self) -> dict[str, Any]:
        return self._found

    def describe(self) -> dict[str, Any]:
        text = {"source": "simulated", "dtype": "string", "shape": []}
        light = {"source": "simulated", "dtype": "array", "dtype_numpy": "<f8", "shape": [3], "units": "cd/m2"}
        return {"light_xyz": light, "light_status": text, "light_raw": text}


class _Engine:
    """The orchestrator, started once."""

    def __init__(self, screen: Screen, meter: Meter) -> None:
        import bluesky
        from bluesky.run_engine import RunEngine

        self.version = bluesky.__version__
        self._display, self._light = _Display(screen), _Light(meter)
        self._engine = RunEngine({}, context_managers=[])

    def run(self, steps: list[Step], path: Path | None, sync: Sync) -> list[float]:
        """Every document becomes a line of ``path``, if there is one."""
        laps_s: list[float] = []
        plan = self._plan(steps, laps_s)
        if path is None:
            self._engine(plan)
            return laps_s
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_APPEND, 0o644)

        def keep(kind: str, document: dict[str, Any]) -> None:
            os.write(descriptor, json.dumps([kind, document], separators=(",", ":")).encode() + b"\n")
            sync(descriptor)

        try:
            self._engine(plan, keep)
        finally:
            os.close(descriptor)
        return laps_s

    def _plan(self, steps: list[Step], laps_s: list[float]) -> Generator[Any, Any, None]:
        from bluesky import plan_stubs

        yield from plan_stubs.open_run({"steps": len(steps)})
        began_s = 0.0
        for step in steps:
            now_s = perf_counter()
            if began_s:
                laps_s.append(now_s - began_s)
            began_s = now_s
            yield from plan_stubs.mv(self._display, step.patch)
            for _ in range(step.readings):
                yield from plan_stubs.trigger_and_read([self._light])
            yield from plan_stubs.mv(self._display, step.patch)
        yield from plan_stubs.close_run()
