"""What a procedure works with: the opened bench for one session, and for one attempt at a step of it.

Every wait and every reading raises `StopAsked` once the operator has requested a stop.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from benchd.clock import Clock, Deadline, StopRequest
from benchd.errors import BenchdError
from benchd.instruments.meter import Reading, ReadRequest
from benchd.patch.model import Patch
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.adaptive.interface import AdaptiveReading
from benchd.run.light_monitor import LightMonitor, Write
from benchd.run.log.bodies import reading_body, shown_body
from benchd.run.log.records import Body
from benchd.run.on_screen import BLACK, SHOW_WITHIN_S, OnScreen
from benchd.run.rig import Event, PanelProtection, Rig

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
    screen: OnScreen = field(init=False)

    def __post_init__(self) -> None:
        self.screen = OnScreen(self.rig, self.stop, self.heed)

    def heed(self) -> None:
        """Raises `StopAsked` where the operator has requested a stop."""
        if self.stop.asked:
            raise StopAsked(self.stop.reason or "a stop request")

    def sleep(self, seconds: float) -> None:
        """Bench time passes."""
        self.rig.clock.sleep(seconds, self.stop)
        self.heed()

    def verify(self, patch: Patch) -> None:
        """Raises a `ScreenError` where ``patch`` is not on the screen as it was sent."""
        self.rig.screen.show(patch, Deadline.after(SHOW_WITHIN_S))

    def read_unrecorded(self, name: str, integration_s: float | None) -> Reading:
        """One reading that is no result: of a reference check, or of what a warm-up characterises."""
        self.heed()
        return self.rig.meter.read(ReadRequest(name, 0, integration_s), Deadline.after(READ_WITHIN_S))


class StepLog:
    """The log of one attempt at a step."""

    def __init__(self, record: Write, step: str, attempt: int) -> None:
        self._record, self._step, self._attempt = record, step, attempt

    def record(self, kind: str, body: Body) -> None:
        """Keep one record; it is on disk when this returns."""
        self._record(kind, self._step, self._attempt, body)


class StepRig:
    """The opened bench for one attempt at a step. Its methods raise the errors of the parts, and `StopAsked`."""

    def __init__(self, session: SessionRig, step: Step, index: int, journal: StepLog) -> None:
        self.index = index  # of the step in the plan, from 1
        self.sleep = session.sleep
        self.put = session.screen.put
        self._session, self._step, self._journal = session, step, journal

    @property
    def clock(self) -> Clock:
        """Bench time."""
        return self._session.rig.clock

    @property
    def on_screen(self) -> Patch:
        """What is on the screen."""
        return self._session.screen.patch

    @property
    def monitor(self) -> LightMonitor:
        """Judges whether readings can be the light of their patch."""
        return self._session.monitor

    @property
    def adaptive(self) -> AdaptiveReading:
        """The adaptive reading of this session."""
        return self._session.adaptive

    @property
    def warm_up(self) -> WarmUpLimits:
        """The limits of the plan's warm-up."""
        return self._session.warm_up

    @property
    def ahead_min(self) -> float:
        """For how many minutes the warm-up judges what is to come."""
        return self._session.ahead_min

    def show(self) -> None:
        """The step's patch on the screen, read back and recorded."""
        started_s = self.clock.now_s()
        shown = self.put(self._step.patch)
        self._journal.record("shown", shown_body(self._step, shown, self.clock.now_s() - started_s))

    def read(self, step: Step, number: int, began_s: float | None = None) -> Reading:
        """One reading, recorded; of ``step`` its integration time. ``began_s``: when its series began."""
        session = self._session
        session.heed()
        request = ReadRequest(step.id, number, step.integration_s)
        after_s = None if began_s is None else round(self.clock.now_s() - began_s, 6)
        reading = session.rig.meter.read(request, Deadline.after(READ_WITHIN_S))
        if after_s is not None and reading.after_s is None:
            reading = replace(reading, after_s=after_s)
        self._journal.record("reading", reading_body(number, reading))
        kind: Literal["warm_up", "reading"] = "warm_up" if step.kind == "warm_up" else "reading"
        session.watch(Event(kind, step, self.index, session.steps, reading))
        return reading

    def read_rested(self, step: Step, number: int) -> Reading:
        """`read`, after black for a while where an emissive panel has shown one bright patch long enough."""
        self._session.heed()
        protection, lit_s = self._session.protection, self._session.screen.lit_s
        if protection is not None and lit_s >= protection.bright_at_most_s:
            self.put(BLACK)
            self.sleep(protection.rest_s)
            self.put(self._step.patch)
            self._journal.record("rested", {"lit_s": round(lit_s, 3), "rest_s": protection.rest_s})
            self.sleep(self._step.settle_s)
        return self.read(step, number)

    def read_unrecorded(self, integration_s: float | None) -> Reading:
        """One reading that is no result."""
        return self._session.read_unrecorded(self._step.id, integration_s)
