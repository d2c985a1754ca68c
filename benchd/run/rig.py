"""What the sequencer and its procedures work with: the opened bench, for one session and for one attempt at a step.

Also what a run reports: its events, and how it left the loop. Every wait and every reading raises `StopAsked` once the
operator has requested a stop.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, Protocol

from benchd.clock import Clock, Deadline, StopRequest
from benchd.errors import BenchdError
from benchd.instruments.control import Control
from benchd.instruments.meter import Meter, Reading, ReadRequest
from benchd.instruments.positioner import Positioner
from benchd.patch.model import Patch, grey
from benchd.patch.screen import Screen, Shown
from benchd.plan.plan import WarmUpLimits
from benchd.plan.safety import MIN_BETWEEN_S, is_alternation, is_bright
from benchd.plan.step import Step
from benchd.run.adaptive.interface import AdaptiveReading
from benchd.run.light_monitor import LightMonitor, Write
from benchd.run.log.bodies import reading_body, shown_body
from benchd.run.log.records import Body, Record


class Rig(Protocol):
    """An opened bench. Its parts may be replaced by the reopen methods."""

    clock: Clock
    screen: Screen
    meter: Meter
    positioner: Positioner

    @property
    def controls(self) -> Mapping[str, Control]:
        """The display's controls by name."""

    def reopen_meter(self) -> None:
        """Find the same meter again by identity. Raises a `MeterError`."""

    def reopen_screen(self) -> None:
        """Start the window again on the same screen. Raises a `ScreenError`."""


class Log(Protocol):
    """Where a run's records go."""

    def append(self, kind: str, step: str = "", attempt: int = 0, body: Body | None = None) -> Record:
        """Keep one record and return it. Raises `JournalError`."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something that the operator may want to see: reported after the log has it."""

    kind: Literal["step", "reading", "fault", "warm_up", "move", "skipped", "note"]
    step: Step
    index: int  # of the step in the plan, from 1
    total: int
    reading: Reading | None = None
    text: str = ""
    error: BenchdError | None = None  # of a fault, and what follows from it
    then: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a run left the loop."""

    complete: bool
    why: str = ""
    step: str = ""
    asked: bool = False  # by Ctrl-C, SIGTERM or another request; ``why`` names it
    move_to: str = ""  # the place that the operator must move the meter to before the resume
    set_to: str = ""  # "control=value" that the operator must set before the resume


@dataclass(frozen=True, slots=True)
class PanelProtection:
    """How long an emissive panel may show one bright patch, and how long it rests in the dark then."""

    bright_at_most_s: float
    rest_s: float


SHOW_WITHIN_S = 5.0
BLACK = Patch("field", grey(0))


READ_WITHIN_S = 180.0


class StopAsked(BenchdError):
    """The operator requested a stop; not a fault."""


@dataclass(frozen=True, slots=True)
class Performed:
    """What a procedure came to: the body of ``done``, and the readings that the light monitor judges."""

    body: Body
    judged: Sequence[Reading] = ()
    settled: bool = True  # light that was not is held against no other


@dataclass(slots=True)
class SessionRig:
    """The opened bench for one session."""

    rig: Rig
    stop: StopRequest
    record: Write
    watch: Callable[[Event], None]
    steps: int  # of the plan
    monitor: LightMonitor
    adaptive: AdaptiveReading
    protection: PanelProtection | None
    warm_up: WarmUpLimits
    ahead_min: float  # for how long the warm-up judges what is to come
    patch: Patch = BLACK  # that is on the screen
    _bright_since_s: float | None = field(default=None, init=False)
    _alternated_s: float | None = field(default=None, init=False)  # when light and dark changed last

    def heed(self) -> None:
        """Raises `StopAsked` where the operator has requested a stop."""
        if self.stop.asked:
            raise StopAsked(self.stop.reason or "a stop request")

    def sleep(self, seconds: float) -> None:
        """Bench time passes."""
        self.rig.clock.sleep(seconds, self.stop)
        self.heed()

    @property
    def lit_s(self) -> float:
        """For how long one bright patch has been on the screen, s; 0 for any other."""
        return 0.0 if self._bright_since_s is None else self.rig.clock.now_s() - self._bright_since_s

    def put(self, patch: Patch) -> Shown:
        """Show another patch, not sooner than is safe for a viewer. Raises a `ScreenError`."""
        if is_alternation(self.patch, patch):
            self._keep_from_flashing()
        self.heed()
        if not is_bright(patch):
            self._bright_since_s = None
        elif self._bright_since_s is None or patch != self.patch:
            self._bright_since_s = self.rig.clock.now_s()
        self.patch = patch
        return self.rig.screen.show(patch, Deadline.after(SHOW_WITHIN_S))

    def _keep_from_flashing(self) -> None:
        """Hold light and dark to at most one change a second, whatever the plan, retries and resumes do.

        Method after WCAG 2.x success criterion 2.3.1 (what counts as a flash), with a rate far below its
        limit of three flashes a second.
        """
        now_s = self.rig.clock.now_s()
        if self._alternated_s is not None and (rest_s := self._alternated_s + MIN_BETWEEN_S - now_s) > 0:
            self.rig.clock.sleep(rest_s, self.stop)
            now_s += rest_s
        self._alternated_s = now_s

    def verify(self, patch: Patch) -> None:
        """Raises a `ScreenError` where ``patch`` is not on the screen as it was sent."""
        self.rig.screen.show(patch, Deadline.after(SHOW_WITHIN_S))

    def read_unrecorded(self, name: str, integration_s: float | None) -> Reading:
        """One reading that is no result: of a reference check, or of what a warm-up characterises."""
        self.heed()
        return self.rig.meter.read(ReadRequest(name, 0, integration_s), Deadline.after(READ_WITHIN_S))


class StepRig:
    """The opened bench for one attempt at a step. Its methods raise the errors of the parts, and `StopAsked`."""

    def __init__(self, session: SessionRig, step: Step, index: int, attempt: int) -> None:
        self.index = index  # of the step in the plan, from 1
        self.clock, self.monitor, self.adaptive = session.rig.clock, session.monitor, session.adaptive
        self.warm_up, self.ahead_min = session.warm_up, session.ahead_min
        self.sleep, self.put = session.sleep, session.put
        self._session, self._step, self._attempt = session, step, attempt

    @property
    def on_screen(self) -> Patch:
        """What is on the screen."""
        return self._session.patch

    def record(self, kind: str, body: Body) -> None:
        """Keep one record of this attempt; it is on disk when this returns."""
        self._session.record(kind, self._step.id, self._attempt, body)

    def show(self) -> None:
        """The step's patch on the screen, read back and recorded."""
        started_s = self.clock.now_s()
        shown = self.put(self._step.patch)
        self.record("shown", shown_body(self._step, shown, self.clock.now_s() - started_s))

    def read(self, step: Step, number: int, began_s: float | None = None) -> Reading:
        """One reading, recorded; of ``step`` its integration time. ``began_s``: when its series began."""
        session = self._session
        session.heed()
        request = ReadRequest(step.id, number, step.integration_s)
        after_s = None if began_s is None else round(self.clock.now_s() - began_s, 6)
        reading = session.rig.meter.read(request, Deadline.after(READ_WITHIN_S))
        if after_s is not None and reading.after_s is None:
            reading = replace(reading, after_s=after_s)
        self.record("reading", reading_body(number, reading))
        kind: Literal["warm_up", "reading"] = "warm_up" if step.kind == "warm_up" else "reading"
        session.watch(Event(kind, step, self.index, session.steps, reading))
        return reading

    def read_judged(self, step: Step, number: int) -> Reading:
        """`read`; the light monitor judges it by itself."""
        reading = self.read(step, number)
        self.monitor.consider(step, [reading])
        return reading

    def read_rested(self, step: Step, number: int) -> Reading:
        """`read`, after black for a while where an emissive panel has shown one bright patch long enough."""
        self._session.heed()
        protection, lit_s = self._session.protection, self._session.lit_s
        if protection is not None and lit_s >= protection.bright_at_most_s:
            self.put(BLACK)
            self.sleep(protection.rest_s)
            self.put(self._step.patch)
            self.record("rested", {"lit_s": round(lit_s, 3), "rest_s": protection.rest_s})
            self.sleep(self._step.settle_s)
        return self.read(step, number)

    def read_unrecorded(self, integration_s: float | None) -> Reading:
        """One reading that is no result."""
        return self._session.read_unrecorded(self._step.id, integration_s)
