"""The software's own time for a step: nothing settles, and the meter answers at once.

Twice: through the real parts (the window process under a virtual X server, the serial driver over a
pseudo-terminal), and through parts in this process, which leave only the loop and the log. Time is real. The patches
differ by little, so that the flash guard never waits, and each by something, so that no cache spares the work.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from os import getpid
from pathlib import Path

from benchd.clock import Deadline, StopRequest
from benchd.instruments.meter import Meter, ReadRequest
from benchd.instruments.serial_meter import SerialMeter
from benchd.patch.model import Code, Patch
from benchd.patch.screen import Screen
from benchd.patch.window_screen import WindowScreen, window_command
from benchd.plan.safety import is_alternation
from benchd.plan.step import Step
from benchd.run.log.records import RunState, advance
from benchd.run.sequencer import Sequencer
from sim.inprocess import SimMeter, SimScreen, scene_of
from tests.bench.figures import Figure, Settings, ms, not_measured, percentile, tell
from tests.bench.process import ROOT
from tests.bench.stopwatch import PARTS, Spoiled, Stopwatch, TimedJournal, TimedRig, bare_fsync_s
from tests.instruments.scripted import load
from tests.patch.x_server import PACKAGES, virtual_server

GOAL_MS = 5.0
GOAL = f"<= {GOAL_MS:g} ms"
DIALECT = "terse-line"
READINGS = (3, 1)  # a step: as many as the shipped plans take of a patch; and the least
SIZE = "1920x1080"
MIDDLE, SPREAD = 118, 6  # codes; far too small a change for a flash, whatever follows what
ROUNDS = 4
BARE = "the records of the same step written and synced, and nothing else, between the rounds"

Parts = tuple[Screen, Meter]


def step_in_process(settings: Settings) -> Iterator[Figure]:
    """The loop and the log alone: a screen and a meter that are only numbers in this process."""
    scene = scene_of()
    screen, meter = SimScreen(scene), SimMeter(scene, instant=True)

    def prepare(steps: list[Step]) -> None:
        """The simulation's own work is done beforehand: what remains of the parts is a look in a table."""
        for step in steps:
            screen.show(step.patch, Deadline.after(5.0))
            meter.read(ReadRequest(step.id, 1), Deadline.after(5.0))

    where = ("screen and meter are SIMULATED: numbers in this process",)
    for readings in READINGS:
        yield _figure(f"step, in process, {counted(readings)}", (screen, meter), readings, settings, where, prepare)


def step_window(settings: Settings) -> Iterator[Figure]:
    """The real window and the real serial driver."""
    if shutil.which("Xvfb") is None:
        yield not_measured("step, window + serial", f"Xvfb is missing; install the Debian package {PACKAGES['Xvfb']}")
        return
    with ExitStack() as stack:
        server = stack.enter_context(virtual_server(settings.folder, size=SIZE))
        screen = WindowScreen(window_command("primary", 8), environment=server.environment)
        stack.callback(screen.close)
        identity = screen.identify()
        meter = stack.enter_context(_instant_serial_meter())
        where = (
            f"window {identity.width} x {identity.height} under a virtual X server, drawn by {identity.renderer}",
            "the meter is SIMULATED: a process that answers at once",
        )
        for readings in READINGS:
            yield _figure(f"step, window + serial, {counted(readings)}", (screen, meter), readings, settings, where)


@contextmanager
def _instant_serial_meter() -> Iterator[SerialMeter]:
    """The serial driver, opened on a pseudo-terminal behind which a process answers at once."""
    # A name of its own: benchd lets no two processes hold one meter.
    command = [sys.executable, "-m", "tests.bench.instant_meter", DIALECT, f"BENCH-{getpid()}"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT) as peer:
        assert peer.stdin is not None
        assert peer.stdout is not None
        try:
            meter = SerialMeter(load(DIALECT), peer.stdout.readline().decode().strip(), simulated=True)
            try:
                yield meter
            finally:
                meter.close()
        finally:
            peer.stdin.close()


def _figure(
    name: str,
    parts: Parts,
    readings: int,
    settings: Settings,
    where: tuple[str, ...],
    prepare: Callable[[list[Step]], None] = lambda steps: None,
) -> Figure:
    count = 60 if settings.quick else 250
    watch = Stopwatch()
    bare_s: list[float] = []
    for number in range(ROUNDS):
        steps = patches(count, readings, number)
        prepare(steps)
        is_alternation.cache_clear()
        log = settings.folder / "steps.log"
        _run(steps, parts, log, watch)
        lines = log.read_bytes().splitlines(keepends=True)[1:-1]  # without `started` and `ended`
        log.unlink()
        each_s = bare_fsync_s(lines, settings.folder / "bare.log")
        of_step = readings + 2  # shown, the readings, done
        bare_s += [sum(each_s[first : first + of_step]) for first in range(0, len(each_s), of_step)]
        tell(f"{name}: round {number + 1} of {ROUNDS}")
    value, bare = watch.median_ms("step"), ms(bare_s)
    per_second = 1000.0 * (readings + 2) / bare
    part = {name: f"{name} {watch.median_ms(name):.2f}" for name in (*PARTS, "rest")}
    whole = [lap["step"] for lap in watch.laps]
    notes = (
        f"median ms: {part['show']}, {part['read']}, {part['write']} (of it {part['fsync']}), {part['rest']}",
        f"show: draw and read back, before and after the readings; read: {readings}; write: {readings + 2} records",
        f"{len(whole)} steps, 95 % of them below {1000.0 * percentile(whole, 95):.2f} ms; "
        f"bare fsync rate {per_second:.0f} records/s",
        *where,
    )
    return Figure(name, value, "ms", bare, BARE, GOAL, value <= GOAL_MS, notes)


def _run(steps: list[Step], parts: Parts, log: Path, watch: Stopwatch) -> None:
    rig = TimedRig(*parts, watch)
    journal = TimedJournal(log, rig.clock, watch)
    try:
        state = RunState()
        advance(state, journal.append("started"))
        outcome = Sequencer(steps, state, rig, journal, StopRequest(), watch=watch.watch).run()
        if not outcome.complete:
            raise Spoiled(outcome.why)
    finally:
        journal.close()
    watch.end()


def counted(readings: int) -> str:
    """``1 reading``, ``3 readings``."""
    return f"{readings} reading{'s' if readings > 1 else ''}"


def patches(count: int, readings: int, seed: int) -> list[Step]:
    """Steps of all kinds of patch in turn: field, window, checkerboard."""
    dice = random.Random(seed)

    def code() -> Code:
        red, green, blue = (dice.randint(MIDDLE - SPREAD, MIDDLE + SPREAD) for _ in range(3))
        return red, green, blue

    kinds = (
        lambda: Patch("field", code()),
        lambda: Patch("window", code(), surround=code(), area_percent=dice.uniform(4.0, 40.0)),
        lambda: Patch("checkerboard", code(), surround=code()),
    )
    return [
        Step(f"patches/{n}", "patches", "readings", kinds[n % 3](), {"name": str(n)}, readings=readings, settle_s=0.0)
        for n in range(count)
    ]
