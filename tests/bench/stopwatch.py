"""Where the time of a step goes: the parts of a bench and the journal, each with a stopwatch around it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from time import perf_counter

from benchd.clock import Clock, Deadline, RealClock, StopRequest
from benchd.errors import BenchdError
from benchd.instruments.control import Control
from benchd.instruments.meter import Meter, MeterIdentity, Reading, ReadRequest
from benchd.instruments.positioner import Positioner
from benchd.patch.model import Patch
from benchd.patch.screen import Screen, ScreenIdentity, Shown
from benchd.run.log.journal import Journal
from benchd.run.log.records import Body, Record
from benchd.run.rig import Event

PARTS = ("show", "read", "write", "fsync")
"""``fsync`` is a part of ``write``; ``rest`` is what none of the first three took."""

Lap = dict[str, float]


class Spoiled(Exception):
    """Something happened that is no part of a step, so the benchmark has no figure; the text says what."""


class Stopwatch:
    """Seconds by part, for each step on its own. ``watch`` is what the sequencer calls for every event."""

    def __init__(self) -> None:
        self.laps: list[Lap] = []
        self._began_s: float | None = None
        self._now: Lap = {}

    def watch(self, event: Event) -> None:
        """A step begins where the one before ends; so the last of a run is not counted."""
        if event.kind != "step":
            return
        now_s = perf_counter()
        if self._began_s is not None:
            step_s = now_s - self._began_s
            rest_s = step_s - self._now["show"] - self._now["read"] - self._now["write"]
            self.laps.append({**self._now, "rest": rest_s, "step": step_s})
        self._began_s, self._now = now_s, dict.fromkeys(PARTS, 0.0)

    def end(self) -> None:
        """The run is over: what comes next belongs to no step."""
        self._began_s = None

    def add(self, part: str, began_s: float) -> None:
        """``part`` took from ``began_s`` to now."""
        if self._began_s is not None:
            self._now[part] += perf_counter() - began_s

    def median_ms(self, part: str) -> float:
        """Of one part over all steps."""
        return 1000.0 * median(lap[part] for lap in self.laps)


class TimedScreen:
    """A screen with a stopwatch around ``show``."""

    def __init__(self, screen: Screen, watch: Stopwatch) -> None:
        self._screen, self._watch = screen, watch

    def identify(self) -> ScreenIdentity:
        return self._screen.identify()

    def show(self, patch: Patch, deadline: Deadline) -> Shown:
        began_s = perf_counter()
        try:
            shown = self._screen.show(patch, deadline)
        except BenchdError as error:
            raise Spoiled(f"the screen failed: {error}") from error
        self._watch.add("show", began_s)
        return shown

    def close(self) -> None:
        self._screen.close()


class TimedMeter:
    """A meter with a stopwatch around ``read``."""

    def __init__(self, meter: Meter, watch: Stopwatch) -> None:
        self._meter, self._watch = meter, watch

    def identify(self) -> MeterIdentity:
        return self._meter.identify()

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        began_s = perf_counter()
        try:
            reading = self._meter.read(request, deadline)
        except BenchdError as error:
            raise Spoiled(f"the meter failed: {error}") from error
        self._watch.add("read", began_s)
        return reading

    def close(self) -> None:
        self._meter.close()


class TimedJournal(Journal):
    """A journal with a stopwatch around ``append`` and another around its fsync."""

    def __init__(self, path: Path, clock: Clock, watch: Stopwatch) -> None:
        def sync(descriptor: int) -> None:
            began_s = perf_counter()
            os.fsync(descriptor)
            watch.add("fsync", began_s)

        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_APPEND | os.O_CLOEXEC, 0o644)
        super().__init__(path, descriptor, "bench", clock, 0, 0, sync=sync)
        self._watch = watch

    def append(self, kind: str, step: str = "", attempt: int = 0, body: Body | None = None) -> Record:
        began_s = perf_counter()
        record = super().append(kind, step, attempt, body)
        self._watch.add("write", began_s)
        return record


class NoWaiting(RealClock):
    """Real time in which nothing may wait: a wait would be measured as software."""

    def sleep(self, seconds: float, stop: StopRequest) -> None:
        if seconds > 0:
            raise Spoiled(f"the run waited for {seconds:g} s")


class NoMoves:
    """The meter stays where it is."""

    by = "operator"

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        raise Spoiled(f"the meter was to be moved to {place}")

    def close(self) -> None:
        """Nothing to let go of."""


class TimedRig:
    """An opened bench whose parts are timed; a fault of one ends the benchmark."""

    def __init__(self, screen: Screen, meter: Meter, watch: Stopwatch) -> None:
        self.clock: Clock = NoWaiting()
        self.screen: Screen = TimedScreen(screen, watch)
        self.meter: Meter = TimedMeter(meter, watch)
        self.positioner: Positioner = NoMoves()
        self.controls: dict[str, Control] = {}

    def reopen_meter(self) -> None:
        """Not reached: see `TimedMeter`."""

    def reopen_screen(self) -> None:
        """Not reached: see `TimedScreen`."""


def bare_fsync_s(lines: Sequence[bytes], path: Path) -> list[float]:
    """Seconds of each: these lines appended to a new file, one write and one fsync a line, and nothing else."""
    taken: list[float] = []
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_APPEND, 0o644)
    try:
        for line in lines:
            began_s = perf_counter()
            os.write(descriptor, line)
            os.fsync(descriptor)
            taken.append(perf_counter() - began_s)
    finally:
        os.close(descriptor)
        path.unlink()
    return taken
