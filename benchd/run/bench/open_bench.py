"""A bench profile becomes an opened bench: companions, clock, screen, meter and positioner.

Companions are processes that are started before its parts are opened and end with it. Everything is closed again in the
opposite order, whatever happens. Nothing here knows whether a part is simulated: a simulated bench is only another set
of commands and port names in its profile.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import Any

from benchd.clock import Clock, CompanionClock, Deadline, RealClock
from benchd.errors import BenchdError, CompanionLost, MeterError, ScreenLost, WrongMeter, WrongScreen
from benchd.instruments.command_meter import CommandMeter
from benchd.instruments.control import no_operator_to_set
from benchd.instruments.meter import Meter, MeterIdentity
from benchd.instruments.open_controls import OpenControls, open_controls
from benchd.instruments.positioner import CommandPositioner, Positioner
from benchd.instruments.serial_meter import open_serial_meter
from benchd.instruments.serial_stage import StagePositioner
from benchd.instruments.virtual_meters import CorrectedMeter, SynchronisedMeter
from benchd.interrupt import Undo
from benchd.patch.far import far_command
from benchd.patch.screen import PromptScreen, Screen, ScreenIdentity
from benchd.patch.window_screen import WindowScreen, window_command
from benchd.pipes import end_process, read_some
from benchd.plan.estimate import planned_seconds
from benchd.plan.run_order import run_order
from benchd.plan.time_left import TimeLeft
from benchd.profile.bench import Instruments
from benchd.profile.driver import Driver, broken, driver_part
from benchd.run.adaptive.interface import expected_seconds
from benchd.run.bench.attended import AttendedPositioner, ManualPositioner, dark_while_prompting
from benchd.run.bench.known_screen import keep_known_screen
from benchd.run.job import BenchJob, PlanJob
from benchd.run.log.records import RunState
from benchd.run.operator_checks import Operator

ENDS_WITHIN_S = 3.0
"""A companion ends when its stdin closes."""


class BenchNotReady(BenchdError):
    """A part of the bench did not answer, so nothing was started."""


def beside_profile(word: str, profile: Path) -> str:
    """``word`` of a command in a bench ``profile``.

    A path such as ``./my-bridge.py`` that is there from the profile's folder means that file, wherever benchd is
    started; any other one is left to the working folder.
    """
    found = profile.parent / word
    return os.path.abspath(found) if "/" in word and not os.path.isabs(word) and found.is_file() else word


def start_companion(
    command: list[str], ready_within_s: float, errors_to: Path
) -> tuple[subprocess.Popen[bytes], dict[str, object]]:
    """Start a companion and wait for its ready line, which is returned too.

    Raises `BenchNotReady` with the end of its errors.
    """
    with errors_to.open("wb") as errors:
        try:
            process = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=errors, start_new_session=True
            )
        except OSError as error:
            raise BenchNotReady(f"the companion {command[0]!r} can't be started ({error.strerror})") from None
    assert process.stdout is not None
    deadline = Deadline.after(ready_within_s)
    text = b""
    while b"\n" not in text:
        if not (more := read_some(process.stdout.fileno(), deadline)):
            end_process(process, ENDS_WITHIN_S)
            tail = errors_to.read_text(errors="replace").strip().splitlines()[-1:] or ["no output"]
            what = f"was not ready within {ready_within_s:g} s" if more is None else "ended before it was ready"
            raise BenchNotReady(f"the companion {' '.join(command[:4])} … {what}: {tail[0]}")
        text += more
    try:
        ready = json.loads(text.partition(b"\n")[0])
    except ValueError:
        ready = {}
    if not isinstance(ready, dict) or not ready.get("ready"):
        end_process(process, ENDS_WITHIN_S)
        raise BenchNotReady(f"the companion {' '.join(command[:4])} … printed {text[:80]!r} instead of being ready")
    return process, ready


REOPEN_FOR_S = 30.0
REOPEN_EVERY_S = 1.0
MILLISECOND = 1e-3
"""What integration times are written in to a serial meter."""


class OpenBench:
    """An opened bench; satisfies the sequencer's `Rig`. Use as a context manager.

    Raises `BenchNotReady`, a `MeterError` or a `ScreenError` on entry when a part does not answer.
    ``expect_meter`` and ``expect_screen`` are the identities that the log began with.
    """

    screen: Screen
    meter: Meter
    positioner: Positioner
    attended: AttendedPositioner
    controls: OpenControls
    meter_identity: MeterIdentity
    screen_identity: ScreenIdentity

    def __init__(
        self,
        job: BenchJob,
        operator: Operator | None = None,
        *,
        expect_meter: MeterIdentity | None = None,
        expect_screen: ScreenIdentity | None = None,
    ) -> None:
        self.clock: Clock = RealClock()
        self._bench, self._dialect, self._stage, self._correction = job.bench, job.dialect, job.stage, job.correction
        self._operator = operator or Operator()
        self._expect_meter, self._expect_screen = expect_meter, expect_screen
        self._stack = ExitStack()
        self._scratch, self._profile = Path(), Path(job.documents["bench"].file)
        self._refresh_hz: float | None = None
        self._companion_simulates = False
        self._companions: list[subprocess.Popen[bytes]] = []

    def __enter__(self) -> OpenBench:
        try:
            self.begin()
            self.open_clock()
            self.open_screen()
            for role in Instruments.model_fields:
                getattr(self, f"open_{role}")()
            self.open_controls()
        except BaseException:
            self._stack.close()
            raise
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._stack.close()

    @property
    def panel(self) -> str:
        """``lcd`` or ``emissive``."""
        return self._bench.panel

    @property
    def shown_manually(self) -> bool:
        """True where the operator shows the patches, on a source without a window."""
        return self._bench.screen.prompt is not None

    def time_left(self, job: PlanJob, state: RunState) -> TimeLeft:
        """The estimate of what is left of ``job`` on this bench; the one that a terminal and the service show."""
        timing, manual = self._bench.timing, self.positioner.by == "operator"
        steps = run_order(job.steps, manual_moves=manual)
        precise_s = expected_seconds(steps, self._bench.expected, timing)
        planned_s = planned_seconds(steps, timing, job.plan, manual_moves=manual, precise_s=precise_s)
        return TimeLeft(steps, planned_s, job.plan.warm_up.limits, {*state.done, *state.skipped})

    @property
    def simulated(self) -> bool:
        """True when any part reports that it is simulated, whatever the profile states."""
        parts = (self._bench.is_simulated, self.meter_identity.simulated, self.screen_identity.simulated)
        corrected = self._correction is not None and self._correction.simulated
        return any(parts) or corrected or self._companion_simulates or self.clock.virtual

    def begin(self) -> None:
        """Make the private folder and start the companions. Raises `BenchNotReady`."""
        self._scratch = Path(tempfile.mkdtemp(prefix="benchd-"))
        take_away = partial(shutil.rmtree, self._scratch, ignore_errors=True)
        self._stack.callback(take_away)
        self._stack.enter_context(Undo(take_away))
        for number, companion in enumerate(self._bench.companions):
            command = self._command(companion.command)
            errors_to = self._scratch / f"companion-{number}.txt"
            process, ready = start_companion(command, companion.ready_within_s, errors_to)
            self._stack.callback(end_process, process, ENDS_WITHIN_S)
            self._companions.append(process)
            self._companion_simulates |= bool(ready.get("simulated"))
        self._stack.callback(self._close_parts)

    def _command(self, command: Sequence[str]) -> list[str]:
        """A command of the profile: ``python`` is this interpreter."""
        words = [self._word(word) for word in command]
        return [sys.executable, *words[1:]] if words[0] == "python" else words

    def _word(self, text: str) -> str:
        return beside_profile(self.in_scratch(text), self._profile)

    def in_scratch(self, text: str) -> str:
        """``text`` of a profile with the private folder put in."""
        return text.replace("{scratch}", str(self._scratch))

    def reopen_meter(self) -> None:
        """Look for the same meter again, for a while: a cable is put back, an adapter comes under a new name.

        Raises a `MeterError`, or `CompanionLost`.
        """
        self.meter.close()
        waited_s = 0.0
        while True:
            # A port that a companion lent is gone with it; another bench's may appear behind the same name.
            for process in self._companions:
                if process.poll() is not None:
                    raise CompanionLost("a companion of the bench has ended; a resume starts it again")
            try:
                self.open_meter(self.meter_identity)
                return
            except WrongMeter:
                raise
            except MeterError:
                if waited_s >= REOPEN_FOR_S or self._operator.stop.asked:
                    raise
            self._operator.stop.wait(REOPEN_EVERY_S)  # real time: the world outside does not follow virtual time
            waited_s += REOPEN_EVERY_S

    def reopen_screen(self) -> None:
        """Start the window again; it must come up on the same screen.

        One on another machine is tried again after growing waits, for a while: its listener may have to be started
        anew. Raises a `ScreenError`.
        """
        self.screen.close()
        wait_s, waited_s = REOPEN_EVERY_S, 0.0
        while True:
            try:
                self.open_screen(self.screen_identity)
                return
            except ScreenLost:
                self.screen.close()
                if self._bench.screen.connect is None or waited_s >= REOPEN_FOR_S or self._operator.stop.asked:
                    raise
            self._operator.stop.wait(wait_s)  # real time, as with a meter
            waited_s += wait_s
            wait_s = min(2.0 * wait_s, max(REOPEN_EVERY_S, REOPEN_FOR_S - waited_s))

    def open_clock(self) -> None:
        """Real time, or the time that a companion keeps. Raises `BenchNotReady`."""
        if self._bench.time is None:
            return
        path = self.in_scratch(self._bench.time.socket)
        try:
            clock = CompanionClock(path)
        except OSError as error:
            raise BenchNotReady(
                f"the companion that keeps the bench's time does not answer at {path} ({error.strerror}); "
                f"look at the companions of bench {self._bench.bench}"
            ) from None
        self._stack.callback(clock.close)
        self.clock = clock

    def open_screen(self, expect: ScreenIdentity | None = None) -> None:
        """Start the window and read which screen it is on. Raises a `ScreenError`."""
        part = self._bench.screen
        if part.prompt is not None:
            self.screen = PromptScreen(
                part.prompt,
                part.size or "",
                part.bits,
                part.signal or "sdr",
                self._operator.ask_to_show or no_operator_to_set,
            )
        else:
            if part.command is not None:
                command = self._command(part.command)
            elif part.connect is not None:
                command = far_command(part.connect, self.in_scratch(part.token_file or ""))
            else:
                command = window_command(part.monitor or "primary", part.bits)
            self.screen = WindowScreen(command, declared=part.signal)
        self.screen_identity = self.screen.identify()
        keep_known_screen(self._bench, self.screen_identity)
        expect = expect or self._expect_screen
        if expect is not None and not expect.same_place(self.screen_identity):
            found = self.screen_identity
            self.screen.close()
            raise WrongScreen(
                f"the run began on screen {expect.name} ({expect.width} x {expect.height}, {expect.bits} bit, "
                f"{expect.signal.upper()}) and "
                f"this one is {found.name} ({found.width} x {found.height}, {found.bits} bit, "
                f"{found.signal.upper()}); "
                "connect the first one again, or start a new run"
            )

    def synchronise(self, refresh_hz: float) -> None:
        """From now on readings last whole frames of the display; also where the meter is opened again."""
        self._refresh_hz = refresh_hz
        self._follow_refresh()

    def _follow_refresh(self) -> None:
        if self._refresh_hz is not None:
            limits = self._dialect.integration if self._dialect is not None else None
            times_s = (limits.high_s, MILLISECOND) if limits else (None, None)
            self.meter = SynchronisedMeter(self.meter, self._refresh_hz, *times_s)

    def open_meter(self, expect: MeterIdentity | None = None) -> None:
        """Open the meter and identify it. Raises a `MeterError`, or `BenchNotReady` for a wrong correction."""
        part = self._bench.instruments.meter
        expect = expect or self._expect_meter
        if part.driver is not None:
            self.meter = _installed(part.driver, self.clock.now_s)
        elif part.command is not None:
            low, high = part.range_cd_m2 or (None, None)
            command = self._command(part.command)
            self.meter = CommandMeter(command, floor_cd_m2=low, ceiling_cd_m2=high, now_s=self.clock.now_s)
        else:
            assert self._dialect is not None  # the bench model requires both
            assert part.port is not None
            self.meter = open_serial_meter(
                self._dialect,
                self.in_scratch(part.port),
                candidates=[self.in_scratch(pattern) for pattern in part.candidates],
                serial_number=expect.serial_number if expect else part.serial_number,
                usb=part.usb,
                model=expect.model if expect else None,
                simulated=self._bench.is_simulated or self._companion_simulates,
                private="{scratch}" in part.port,
                now_s=self.clock.now_s,
            )
        self.meter_identity = self.meter.identify()
        if expect is not None and not expect.same_meter(self.meter_identity):
            found = self.meter_identity
            self.meter.close()
            raise WrongMeter(
                f"the run began with meter {expect.model} {expect.serial_number} and this one is "
                f"{found.model} {found.serial_number}; connect the first one again, or start a new run"
            )
        if self._correction is not None:
            who = self.meter_identity
            if unfit := self._correction.unfit(model=who.model, serial_number=who.serial_number):
                self.meter.close()
                raise BenchNotReady(unfit)
            self.meter = CorrectedMeter(self.meter, self._correction.matrix)
        self._follow_refresh()

    def open_stage(self) -> None:
        """The operator, a motion stage, an installed driver, or a mover's process."""
        if (part := self._bench.instruments.stage) is None:
            mover: Positioner = ManualPositioner(self._operator.ask)
        elif self._stage is not None:
            assert part.port is not None  # the bench model requires all three of a stage
            assert part.origin_mm is not None
            assert part.size_mm is not None
            mover = StagePositioner(self._stage, self.in_scratch(part.port), part.origin_mm, part.size_mm)
        elif part.driver is not None:
            mover = _installed(part.driver, self.clock.now_s)
        else:
            assert part.command is not None  # the bench model requires one of both
            mover = CommandPositioner(self._command(part.command))
        self.positioner = self.attended = AttendedPositioner(mover, self._operator.ask, caps=self._bench.caps)

    def open_controls(self) -> None:
        """The display's controls; none is opened before a plan or the doctor needs it."""
        bench = self._bench
        ask = no_operator_to_set if self._operator.ask_to_set is None else self._operator.ask_to_set
        if self._operator.ask_to_set is not None and not self.shown_manually:  # else the black would be a prompt too
            ask = dark_while_prompting(ask, lambda: self.screen)
        self.controls = open_controls(bench.controls, bench.ddc, self.clock, ask=ask, in_scratch=self._word)

    def _close_parts(self) -> None:
        for name in ("controls", "positioner", "meter", "screen"):
            if (part := getattr(self, name, None)) is not None:
                part.close()


def _installed(driver: Driver, now_s: Callable[[], float]) -> Any:
    """The instrument behind the driver of a package, which satisfies the Protocol of its role.

    Raises one of the role's errors, or a `PackageError` where the driver's own code fails.
    """
    try:
        return driver_part(driver.name).open(driver.options, now_s)
    except BenchdError:
        raise
    except Exception as error:  # whatever the package's code does
        raise broken(driver.name, error) from error
