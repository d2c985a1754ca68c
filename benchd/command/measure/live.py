"""What an operator sees and does while a run goes on: progress, questions, Ctrl-C.

A prompt takes only the keys that it names, all else records nothing.
"""

from __future__ import annotations

import math
import os
import select
import shutil
import signal
import sys
import termios
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from benchd import interrupt
from benchd.clock import Deadline, StopRequest, real_now_s, wall_label
from benchd.command.log_names import as_typed
from benchd.command.messages import coloured, draw, prompt, rewrites, say
from benchd.errors import BenchdError, MoveNeeded, OperatorNeeded
from benchd.exits import Exit
from benchd.instruments.control import PointSkipped
from benchd.instruments.meter import Reading, Status
from benchd.local_time import end_time
from benchd.plan.step import Step
from benchd.plan.time_left import TimeLeft
from benchd.report.terminal.progress import Progress, block_line, progress_line, what
from benchd.report.words import printable, readings_words
from benchd.run.bench.attended import request
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import PlanJob
from benchd.run.log.log_ends import last_record
from benchd.run.log.records import RunState
from benchd.run.operator_checks import ANSWER_WITHIN_S, Answer, Doubt, Operator
from benchd.run.rig import Event, Outcome
from benchd.run.session import Observer

REDRAW_EVERY_S = 0.1


@contextmanager
def stop_on_signals(stop: StopRequest, is_over: Callable[[], bool] = lambda: False) -> Iterator[StopRequest]:
    """Ctrl-C and SIGTERM set the request; a second Ctrl-C ends at once (see `benchd.interrupt`), unless ``is_over``."""

    def ask(number: int, frame: FrameType | None) -> None:
        if stop.asked and number == signal.SIGINT and not is_over():
            interrupt.end()
        stop.set("Ctrl-C" if number == signal.SIGINT else "SIGTERM")

    before = {number: signal.signal(number, ask) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def stops_at_once(log: str) -> None:
    """A second Ctrl-C from here on leaves a log that can be resumed."""
    interrupt.on_ctrl_c(f"Stopped at once. Go on with: benchd resume {printable(as_typed(Path(log)))}", Exit.PAUSED)


class Live:
    """Prints the progress of one session to stderr: a line that is rewritten, or a line a block."""

    def __init__(self, log: Path, stop: StopRequest) -> None:
        self._log = str(log)
        self._stop = stop
        self._terminal = rewrites()
        self._drawn_s = 0.0
        self._bench: OpenBench | None = None
        self._state = RunState()
        self._time: TimeLeft | None = None
        self._of_block: dict[str, list[str]] = {}
        self._step: Step | None = None
        self._began_s = 0.0  # bench time when the step began

    @property
    def observer(self) -> Observer:
        """What the session calls."""
        return Observer(self._opened, self._event, lambda sentence: say(f"Note: {sentence}."))

    def is_over(self) -> bool:
        """True once the log has ended; the command has then only to report it."""
        if self._state.started is None:
            return False
        last = last_record(Path(self._log))
        return last is not None and last.kind == "ended"

    def _opened(self, bench: OpenBench, job: PlanJob, state: RunState) -> None:
        self._bench, self._state = bench, state
        stops_at_once(self._log)
        self._time = bench.time_left(job, state)
        for step in job.steps:
            self._of_block.setdefault(step.block, []).append(step.id)
        time = " on virtual time (waits are skipped)" if bench.clock.virtual else ""
        kind = "SIMULATED bench" if bench.simulated else "bench"
        meter, screen = bench.meter_identity, bench.screen_identity
        say(
            f"{kind}{time}: meter {meter.model} {meter.serial_number}, "
            f"screen {screen.name} {screen.width} x {screen.height} {screen.bits} bit. Log: {self._log}"
        )

    def _event(self, event: Event) -> None:
        if event.kind == "fault":
            say(f"Fault at {event.step.id}: {event.text}")
        if event.kind == "skipped" and self._time is not None:
            self._time.left_out(self._state.skipped)
            say(f"Skipped: {event.text}.")
        if event.kind == "step":
            self._end_step()
            if self._step is not None and self._step.block != event.step.block and self._says_done(self._step):
                say(block_line(self._progress(self._step, event.reading)))
            self._step = event.step
        if event.kind == "warm_up" and self._time is not None:
            self._time.warming(self._bench_s() - self._began_s)
        if self._terminal and event.kind in ("reading", "warm_up", "step"):
            self._draw(event)

    def _says_done(self, step: Step) -> bool:
        """Without a terminal a block is reported once all its steps are done: some have one at the end of the run.

        One that the plan does not have, such as a warm-up after a pause, is reported by itself.
        """
        of_block = self._of_block.get(step.block, ())
        over = {*self._state.done, *self._state.skipped, step.id}
        return not self._terminal and (step.id not in of_block or over.issuperset(of_block))

    def _end_step(self) -> None:
        """The step under way is done; the next one begins now."""
        now_s = self._bench_s()
        if self._step is not None and self._time is not None:
            self._time.finished(self._step.id, now_s - self._began_s)
        self._began_s = now_s

    def _bench_s(self) -> float:
        return self._bench.clock.now_s() if self._bench is not None else 0.0

    def _draw(self, event: Event) -> None:
        now_s = real_now_s()
        if now_s - self._drawn_s < REDRAW_EVERY_S:
            return
        self._drawn_s = now_s
        width = shutil.get_terminal_size().columns - 1
        draw(progress_line(self._progress(event.step, event.reading), width=width, colour=coloured(sys.stderr)))

    def _progress(self, step: Step, reading: Reading | None) -> Progress:
        assert self._time is not None  # the bench is open before the first event
        number, count = standing(self._of_block[step.block], step.id)
        return Progress(
            block=step.block,
            step=number,
            steps=count,
            what=what(step.labels, step.place),
            done=self._time.share,
            left_s=self._time.minimum_s,
            left_maximum_s=self._time.maximum_s,
            faults=self._state.faults,
            log=self._log,
            luminance_cd_m2=reading.xyz[1] if reading and reading.xyz else None,
            cct_k=_cct_k(reading),
            status=reading.status.value if reading else "ok",
            simulated=self._bench is not None and self._bench.simulated,
            ends=self._ends(self._time),
        )

    def _ends(self, time: TimeLeft) -> str:
        """When the run ends, by the clock; "" where bench time is another one, or nothing is known of it."""
        if self._bench is None or self._bench.clock.virtual or time.minimum_s is None:
            return ""
        return end_time(wall_label(), time.minimum_s, time.maximum_s or time.minimum_s)

    @property
    def operator(self) -> Operator:
        """The operator at the terminal; without a terminal there is none, and the run pauses."""
        if no_operator():
            return Operator(self._stop)
        return Operator(
            self._stop,
            lambda place, at: self._wait(request(place, at), MoveNeeded(f"the move to {place} waits for the operator")),
            lambda sentence: self._wait_to_set(sentence, skippable=True),
            self._wait_to_set,
            self._confirm_terminal,
        )

    def _wait_to_set(self, sentence: str, *, skippable: bool = False) -> None:
        self._wait(sentence, OperatorNeeded(f"{sentence}: this waits for the operator"), skippable=skippable)

    def _confirm_terminal(self, doubt: Doubt) -> Answer:
        question = f"Note: {doubt.note}. {doubt.question}  Enter: yes, go on / r: {doubt.again}"
        key = key_for(question, (ENTER, AGAIN), self._stop, ANSWER_WITHIN_S)
        if key is None:
            say(f"No answer within {ANSWER_WITHIN_S:.0f} s; the run goes on, and its results are marked as doubtful.")
        return {ENTER: Answer.YES, AGAIN: Answer.AGAIN}.get(PAUSE if key is None else key, Answer.NONE)

    def _wait(self, sentence: str, otherwise: BenchdError, *, skippable: bool = False) -> None:
        """Prompt on the terminal until it is done; raises ``otherwise`` when the operator pauses instead.

        ``skippable``: it belongs to a point of a sweep. Raises `PointSkipped` where the operator leaves that out.
        """
        keys = (ENTER, SKIP, PAUSE) if skippable else (ENTER, PAUSE)
        named = "s: skip this point, p: pause" if skippable else "p: pause"
        key = key_for(f"{sentence.rstrip('.')}, then press Enter ({named}).", keys, self._stop)
        if key == SKIP:
            raise PointSkipped(sentence)
        if key != ENTER:
            self._stop.set("the operator")
            raise otherwise

    def finish(self, outcome: Outcome) -> Exit:
        """Report how it ended; the exit code that goes with it."""
        if outcome.complete:
            state = self._state
            if self._step is not None and self._time is not None and self._says_done(self._step):
                self._time.finished(self._step.id, 0.0)
                say(block_line(self._progress(self._step, None)))
            skipped = f", {len(state.skipped)} skipped" if state.skipped else ""
            readings = readings_words(state.readings_of_plan, state.readings_of_warm_up)
            say(f"Complete: {state.steps_done} steps{skipped}, {readings}, faults {state.faults}.")
            return Exit.COMPLETE
        where = f"Paused by {outcome.why}" if outcome.asked else f"Paused at {outcome.step}: {outcome.why}"
        say(f"{where.rstrip('.')}.")
        kept = f"Nothing that was read is lost ({self._state.readings_of_plan} readings of done steps are on disk)"
        if self._step is not None and self._step.kind == "warm_up":
            kept = f"{kept}; the warm-up begins anew" if self._state.readings_of_plan else "The warm-up begins anew"
        say(f"{kept}. Go on with: benchd resume {as_typed(Path(self._log))}")
        return Exit.PAUSED


def standing(names: Sequence[str], step: str) -> tuple[int, int]:
    """Which of the block's steps ``step`` is, from 1, and of how many.

    One that the plan does not have is the only one of its kind: a warm-up or a reference again after a pause.
    """
    return (names.index(step) + 1, len(names)) if step in names else (1, 1)


def _cct_k(reading: Reading | None) -> float | None:
    """The colour temperature of a reading that is ok, for the eye; None where there is none."""
    if reading is None or reading.xyz is None or reading.status is not Status.OK:
        return None
    from benchd.analysis.colour.colorimetry import cct_duv

    kelvin = float(cct_duv(reading.xyz)[0])
    return kelvin if math.isfinite(kelvin) else None


ENTER, PAUSE, AGAIN, SKIP = "", "p", "r", "s"
"""What is typed before Enter."""
LOOK_EVERY_S = 0.1
MAX_SHOWN = 20


def no_operator() -> bool:
    """True when there is no terminal to prompt at."""
    return not (sys.stdin.isatty() and sys.stderr.isatty())


def wait_for_operator(sentence: str) -> bool:
    """Prompt until Enter (true), or p and Enter, Ctrl-C or the end of the input (false: the operator stops here)."""
    question = f"{sentence.rstrip('.')}, then press Enter (p: stop here)."
    with stop_on_signals(StopRequest()) as stop:
        return key_for(question, (ENTER, PAUSE), stop) == ENTER


def key_for(question: str, keys: Sequence[str], stop: StopRequest, within_s: float | None = None) -> str | None:
    """Which of ``keys`` the operator types; any other is answered with a sentence, and the question stands.

    ``PAUSE`` at the end of the input and when ``stop`` is set; None when ``within_s`` is over.
    """
    limit = None if within_s is None else Deadline.after(within_s)
    put = True
    while not stop.asked:
        if put:
            termios.tcflush(sys.stdin, termios.TCIFLUSH)  # what was typed or pasted before must not answer it
            prompt(question)
            put = False
        if limit is not None and limit.passed:
            say("")
            return None
        if not select.select([sys.stdin], [], [], LOOK_EVERY_S)[0]:
            continue
        typed = os.read(sys.stdin.fileno(), 1 << 16)  # a whole line; empty: the end of the input
        if not typed:
            break
        key = typed.decode(errors="replace").rstrip("\r\n")
        if key.lower() in keys:
            return key.lower()
        named = ", ".join(one or "Enter" for one in keys)
        shown = key if len(key) <= MAX_SHOWN else f"{key[:MAX_SHOWN]}…"
        say(f"{shown!r} is none of {named}. Nothing was recorded.")
        put = True
    say("")
    return PAUSE
