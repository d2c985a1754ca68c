"""What an operator sees and does while a run goes on: progress, questions, Ctrl-C."""

from __future__ import annotations

import shutil
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from benchd.clock import StopRequest, file_stamp, real_now_s
from benchd.errors import MoveNeeded
from benchd.exits import Exit
from benchd.plan.estimate import moves_before, step_seconds
from benchd.plan.steps import Step
from benchd.report.progress import Progress, block_line, progress_line, what
from benchd.run.job import PlanJob
from benchd.run.open_bench import Ask, OpenBench, nobody_to_ask
from benchd.run.records import RunState
from benchd.run.sequencer import Event, Outcome
from benchd.run.session import Observer

REDRAW_EVERY_S = 0.1
WARM_UP = "warm-up"


@contextmanager
def stop_on_signals() -> Iterator[StopRequest]:
    """Ctrl-C and SIGTERM set the request; a second Ctrl-C stops at once (the log stays resumable)."""
    stop = StopRequest()

    def ask(number: int, frame: FrameType | None) -> None:
        if stop.asked and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop.set("Ctrl-C" if number == signal.SIGINT else "SIGTERM")

    before = {number: signal.signal(number, ask) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class Live:
    """Prints the progress of one session to stderr: a line that is rewritten, or a line a block."""

    def __init__(self, log: Path) -> None:
        self._log = str(log)
        self._terminal = sys.stderr.isatty()
        self._drawn_s = 0.0
        self._bench: OpenBench | None = None
        self._job: PlanJob | None = None
        self._state = RunState()
        self._left_s: dict[str, float] = {}
        self._of_block: dict[str, list[str]] = {}
        self._total_s = 1.0
        self._step: Step | None = None

    @property
    def observer(self) -> Observer:
        """What the session calls."""
        return Observer(self._opened, self._event)

    def _opened(self, bench: OpenBench, job: PlanJob, state: RunState) -> None:
        self._bench, self._job, self._state = bench, job, state
        timing = bench.timing
        moves = moves_before(job.steps)
        limits = job.plan.warm_up.limits
        seconds = {
            step.id: step_seconds(step, timing) + moved * timing.move_s
            for step, moved in zip(job.steps, moves, strict=True)
        }
        if limits is not None:
            seconds[WARM_UP] = limits.at_most_min * 60.0
        self._total_s = sum(seconds.values()) or 1.0
        self._left_s = {name: s for name, s in seconds.items() if name not in state.done}
        for step in job.steps:
            self._of_block.setdefault(step.block, []).append(step.id)
        time = " on virtual time (waits are skipped)" if bench.clock.virtual else ""
        kind = "SIMULATED bench" if bench.simulated else "bench"
        meter, screen = bench.meter_identity, bench.screen_identity
        self._say(
            f"{kind}{time}: meter {meter.model} {meter.serial_number}, "
            f"screen {screen.name} {screen.width} x {screen.height} {screen.bits} bit. Log: {self._log}"
        )

    def _event(self, event: Event) -> None:
        if event.kind == "fault":
            self._say(f"Fault at {event.step.id}: {event.text}")
        if event.kind == "step":
            if self._step is not None:
                self._left_s.pop(self._step.id, None)
                if self._step.block != event.step.block and not self._terminal:
                    self._say(block_line(self._progress(self._step, event)))
            self._step = event.step
        if self._terminal and event.kind in ("reading", "warm_up", "step"):
            self._draw(event)

    def _draw(self, event: Event) -> None:
        now_s = real_now_s()
        if now_s - self._drawn_s < REDRAW_EVERY_S:
            return
        self._drawn_s = now_s
        width = shutil.get_terminal_size().columns - 1
        line = progress_line(self._progress(event.step, event), width=width, colour=True)
        sys.stderr.write(f"\r\x1b[K{line}")
        sys.stderr.flush()

    def _progress(self, step: Step, event: Event) -> Progress:
        left_s = sum(self._left_s.values())
        names = self._of_block[step.block]
        reading = event.reading
        return Progress(
            block=step.block,
            step=names.index(step.id) + 1,
            steps=len(names),
            what=what(step.role, step.place),
            done=1 - left_s / self._total_s,
            left_s=left_s,
            faults=self._state.faults,
            log=self._log,
            luminance_cd_m2=reading.xyz[1] if reading and reading.xyz else None,
            status=reading.status.value if reading else "ok",
            simulated=self._bench is not None and self._bench.simulated,
        )

    def ask(self) -> Ask:
        """How a hand is asked to move the meter: a question on the terminal, or a pause without one."""
        return self._ask_terminal if self._terminal and sys.stdin.isatty() else nobody_to_ask

    def _ask_terminal(self, place: str, at: tuple[float, float]) -> None:
        self._say(
            f"Move the meter to {place} (the bright spot: {at[0]:.0%} of the width, {at[1]:.0%} of the height). "
            "Press Enter when it is there, or type p and Enter to pause."
        )
        answer = sys.stdin.readline()
        if answer.strip().lower().startswith("p") or not answer:
            raise MoveNeeded(f"the move to {place} waits for a hand; move the meter there and resume")

    def finish(self, outcome: Outcome) -> Exit:
        """Say how it ended; the exit code that goes with it."""
        if self._step is not None:
            self._left_s.pop(self._step.id, None)
        if outcome.complete:
            state = self._state
            self._say(f"Complete: {len(state.done)} steps, {state.readings} readings, faults {state.faults}.")
            return Exit.COMPLETE
        where = f"Paused by {outcome.why}" if outcome.asked else f"Paused at {outcome.step}: {outcome.why}"
        self._say(f"{where.rstrip('.')}.")
        self._say(
            f"Nothing that was read is lost ({self._state.readings} readings of done steps are on disk). "
            f"Go on with: benchd resume {self._log}"
        )
        return Exit.PAUSED

    def _say(self, text: str) -> None:
        before = "\r\x1b[K" if self._terminal else ""
        print(f"{before}{text}", file=sys.stderr, flush=True)


def default_log(folder: str, sample: str = "") -> Path:
    """``folder/sample/2026-03-02T181203.log`` with the sample made safe for a path."""
    stamp = file_stamp()
    safe = "".join(sign if sign.isalnum() or sign in "-_." else "-" for sign in sample).strip(".-")
    return Path(folder, safe, f"{stamp}.log") if safe else Path(folder, f"{stamp}.log")
