"""What the sequencer works with and reports: the opened bench it needs, its events, and how a run leaves the loop."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, Protocol

from benchd.clock import Clock
from benchd.errors import BenchdError
from benchd.instruments.control import Control
from benchd.instruments.meter import Meter, Reading
from benchd.instruments.positioner import Positioner
from benchd.patch.screen import Screen
from benchd.plan.step import Step
from benchd.run.log.records import Body, Record


class Rig(Protocol):
    """An opened bench. Its parts may be replaced by the reopen methods."""

    @property
    def clock(self) -> Clock:
        """Bench time."""

    @property
    def screen(self) -> Screen:
        """The screen as it is opened now."""

    @property
    def meter(self) -> Meter:
        """The meter as it is opened now."""

    @property
    def positioner(self) -> Positioner:
        """Who moves the meter."""

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

    kind: Literal["step", "reading", "fault", "warm_up", "move", "note"]
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
