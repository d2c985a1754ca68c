"""A step of a run through the service, over the same step in the foreground: same bench, same plan, same moment.

The simulated bench is the real one of processes, a pseudo-terminal and a window's process on virtual time, so a
step takes what the software takes. The runs stand side by side and take turns of a few steps, so that whatever
else the machine does meets them all alike. The services have their sockets open; nobody asks the one, and a
`benchd watch` in another process takes every event of the other.
"""

from __future__ import annotations

import logging
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import Any

from benchd.daemon.attempt import Sessions
from benchd.daemon.folders import places
from benchd.daemon.hooks import Hooks, Message
from benchd.daemon.http.doors import start_servers
from benchd.daemon.job_control import JobState, Submission
from benchd.daemon.queue import Queue
from benchd.daemon.service import Service
from benchd.run import session
from benchd.run.job import BenchJob, PlanJob, bench_job, plan_job_from
from benchd.run.operator_checks import Operator
from benchd.run.rig import Event, Outcome
from benchd.run.session import Observer
from tests.bench.figures import Figure, Settings, ms, tell
from tests.bench.process import ROOT
from tests.bench.stopwatch import Spoiled

MAX_PERCENT = 10.0
ROUNDS = 4
TURN = 10  # steps
OPEN_WITHIN_S = 60.0
BENCH = ROOT / "profiles" / "benches" / "sim-office.yaml"
FILE = "bench-steps.yaml"
PLAN = """\
plan: bench-steps
target: srgb
warm_up: none
settle_s: 0.6
dark_settle_s: 0.6
readings: 3
dark_readings: 3
blocks:
  - grayscale: {steps: 150}
  - grayscale: {steps: 150, name: again}
"""
AGAINST = "the same plan with `benchd.run.session.start` alone, which is what `benchd run` calls; in turns"


class Turns:
    """Lets one run go on at a time, for `TURN` steps, and then the next one, round and round."""

    def __init__(self, runs: int) -> None:
        self._all_open = threading.Barrier(runs)
        self._changed = threading.Condition()
        self._runs = list(range(runs))  # those that are not over, the one whose turn it is first

    def begin(self, run: int) -> None:
        """Called by each run when its bench is open: from then on they take turns."""
        self._all_open.wait(OPEN_WITHIN_S)
        self._wait_for(run)

    def hand_over(self, run: int) -> None:
        """The next one's turn; returns when it is this one's again."""
        with self._changed:
            self._runs.append(self._runs.pop(0))
            self._changed.notify_all()
        self._wait_for(run)

    def leave(self, run: int) -> None:
        """This run is over, in whatever way."""
        with self._changed:
            self._runs.remove(run)
            self._changed.notify_all()

    def give_up(self) -> None:
        """One did not come to its first step: nobody waits for it."""
        self._all_open.abort()

    def _wait_for(self, run: int) -> None:
        with self._changed:
            self._changed.wait_for(lambda: self._runs[0] == run)


def service(settings: Settings) -> Iterator[Figure]:
    """The service with nobody who asks, and with one who watches."""
    quiet = logging.NullHandler()  # its cautions are no news here
    logging.getLogger("benchd.service").addHandler(quiet)
    laps_s: dict[str, list[float]] = {name: [] for name in WAYS}
    each: dict[str, list[float]] = {name: [] for name in WAYS}
    try:
        for number in range(1 if settings.quick else ROUNDS):
            for name, laps in _side_by_side(settings.folder).items():
                laps_s[name] += laps
                each[name].append(ms(laps))
            tell(f"service: round {number + 1}")
    finally:
        logging.getLogger("benchd.service").removeHandler(quiet)
    base, *served = WAYS
    yardstick = ms(laps_s[base])
    for name in served:
        value = ms(laps_s[name])
        percent = 100.0 * (value / yardstick - 1.0)
        rounds = (100.0 * (mine / its - 1.0) for mine, its in zip(each[name], each[base], strict=True))
        notes = (
            f"{percent:+.1f} %; medians of {len(laps_s[name])} steps of 3 readings; bench SIMULATED, virtual time",
            f"round by round: {' '.join(f'{one:+.1f}' for one in rounds)} %; turns of {TURN} steps",
        )
        goal = f"<= {MAX_PERCENT:g} % more"
        yield Figure(f"step, {name}", value, "ms", yardstick, AGAINST, goal, percent <= MAX_PERCENT, notes)


def _side_by_side(folder: Path) -> dict[str, list[float]]:
    """Seconds of each step of each way, of one run each."""
    turns = Turns(len(WAYS))
    laps: dict[str, list[float]] = {name: [] for name in WAYS}
    errors: list[Exception] = []

    def run(number: int, name: str) -> None:
        try:
            with tempfile.TemporaryDirectory(dir=folder) as own:
                WAYS[name](Path(own), _timed(laps[name], turns, number))
        except Exception as error:
            errors.append(error)
            turns.give_up()
        finally:
            turns.leave(number)

    threads = [threading.Thread(target=run, args=one) for one in enumerate(WAYS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if errors:
        raise Spoiled(f"a run failed: {errors[0]!r}")
    # The first turn fills caches.
    return {name: taken[TURN:] for name, taken in laps.items()}


Start = Callable[..., Outcome]


def _timed(laps_s: list[float], turns: Turns, run: int) -> Start:
    """`session.start` that takes turns, and the time from each step's begin to the next one's, whoever else listens."""

    def start(job: PlanJob, bench: BenchJob, log: Path, operator: Operator, observer: Observer, **more: Any) -> Outcome:
        began_s = 0.0
        count = 0

        def event(event: Event) -> None:
            nonlocal began_s, count
            if event.kind == "step":
                if count:
                    laps_s.append(perf_counter() - began_s)
                    if count % TURN == 0:
                        turns.hand_over(run)
                else:
                    turns.begin(run)
                count += 1
                began_s = perf_counter()
            observer.event(event)

        return session.start(job, bench, log, operator, Observer(observer.opened, event), **more)

    return start


def _foreground(folder: Path, start: Start) -> None:
    job = plan_job_from(FILE, PLAN, {})
    bench = bench_job(str(BENCH))
    outcome = start(job, bench, folder / "steps.log", Operator(), Observer(), sample="bench")
    if not outcome.complete:
        raise Spoiled(outcome.why)


class _EndWithTheJob(Hooks):
    """The service has one job here."""

    def __init__(self) -> None:
        super().__init__()
        self.service: Service | None = None

    def call(self, message: Message) -> None:
        if self.service is not None:
            self.service.stop("the end of the benchmark")


def _served(folder: Path, start: Start, *, watched: bool) -> None:
    where = places("sim-office", folder)
    hooks = _EndWithTheJob()
    desk = Service(str(BENCH), where, Queue(where.queue), hooks=hooks, sessions=Sessions(start=start))
    hooks.service = desk
    with ExitStack() as held:
        # Short, whatever the folder of the logs is called: the kernel takes 107 bytes.
        socket = Path(held.enter_context(tempfile.TemporaryDirectory())) / "socket"
        held.enter_context(start_servers(desk, socket, None, where.token))
        job = desk.submit(Submission(FILE, PLAN, sample="bench"))
        if watched:
            command = [sys.executable, "-m", "benchd", "watch", "--json", "--socket", str(socket)]
            watcher = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            held.callback(watcher.wait)
            held.callback(watcher.terminate)
        desk.run_forever()
        ended = next(one for one in desk.snapshot().queue if one.id == job.id)
    if ended.state is not JobState.COMPLETE:
        raise Spoiled(f"the job is {ended.state.value}: {ended.why}")


WAYS: dict[str, Callable[[Path, Start], None]] = {
    "run in the foreground": _foreground,
    "service": partial(_served, watched=False),
    "service, watched": partial(_served, watched=True),
}
"""The first is what the others are held against."""
