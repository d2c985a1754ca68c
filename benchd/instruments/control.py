"""A control of the display: read it, set it, and never believe that it was set before it reads back.

Whatever sets it (the display's control channel, a command, the operator), the run sees one protocol.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Literal, Protocol

from benchd.clock import Clock, Deadline, StopRequest
from benchd.errors import ControlGarbled, ControlMismatch, ControlRefused, ControlSilent, OperatorNeeded
from benchd.profile.display import ControlPart
from benchd.profile.reading.values import Setting

By = Literal["ddc", "command", "operator"]

Ask = Callable[[str], None]
"""Prompts the operator to set something (a whole sentence); returns when it is done, or raises `OperatorNeeded`.

For a control it may also raise `PointSkipped`."""


class PointSkipped(Exception):
    """The operator does not set this but skips the point of the sweep; no error, and for the sequencer alone."""


TRIES = 3
POLL_S = 0.1
NEVER = StopRequest()
"""For short waits that even a run with a stop request completes: a control is restored then."""


@dataclass(frozen=True, slots=True)
class SetOutcome:
    """What setting a control came to. ``read_back`` is None where nothing can be read back."""

    asked: Setting
    read_back: Setting | None
    elapsed_s: float  # of bench time
    by: By
    why: str = ""  # why the operator did what the display or a command should have done


class Control(Protocol):
    """One control. ``read`` and ``set`` raise a `ControlError`, ``set`` also `OperatorNeeded`."""

    name: str
    settle_s: float  # what the display needs after a change; the caller waits for it

    def read(self, deadline: Deadline) -> Setting | None:
        """The present value, read until two answers agree; None where it can't be read."""

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """Set it, then read it back until the value is there.

        ``restoring``: put back what was once read, even where the bench profile would not allow a plan to.
        """

    def describe(self, deadline: Deadline) -> str:
        """The present value and what it may be, in words."""


def no_operator_to_set(sentence: str) -> None:
    """The `Ask` of a run without an operator."""
    raise OperatorNeeded(f"{sentence}; this run can't prompt, so do it and resume")


def set_and_confirm(
    name: str,
    value: Setting,
    write: Callable[[], None],
    read: Callable[[], Setting | None],
    *,
    within_s: float,
    clock: Clock,
    deadline: Deadline,
) -> tuple[Setting, float]:
    """Write and read until ``read`` gives ``value``: what was read back, and the bench time that it took.

    Written anew `TRIES` times in ``within_s`` of bench time, since a display may miss a message while it is busy.
    Raises `ControlMismatch`, or the last `ControlSilent` or `ControlGarbled` when nothing was read at all.
    """
    started_s = clock.now_s()
    trouble: ControlSilent | ControlGarbled | None = None
    found: Setting | None = None
    for number in range(1, TRIES + 1):
        written = False
        while not deadline.passed:
            try:
                if not written:
                    write()
                    written = True
                found = read()
                if found == value:
                    return found, clock.now_s() - started_s
            except (ControlSilent, ControlGarbled) as error:
                if trouble is None or not deadline.passed:  # what the deadline cut short is worth less
                    trouble = error
            if clock.now_s() - started_s >= within_s * number / TRIES:
                break
            clock.sleep(POLL_S, NEVER)
    if found is None:
        raise trouble or ControlSilent(f"control {name} could not be read back in time; look at the display")
    raise ControlMismatch(
        f"control {name} was set to {value} and reads back {found} after {clock.now_s() - started_s:.1f} s; look "
        "whether the display changes it by itself (automatic brightness, power saving), turn that off and resume"
    )


class PartControl(Control):
    """A control as its part of the bench profile has it; each way of setting one has `read`, `describe`, `write`."""

    by: By
    reads_back = True

    def __init__(self, name: str, part: ControlPart, clock: Clock) -> None:
        self.name, self.settle_s = name, part.settle_s
        self._part, self._clock = part, clock

    def write(self, value: Setting, deadline: Deadline) -> None:
        """Set it, without looking whether it is set then."""

    def set(self, value: Setting, deadline: Deadline, *, restoring: bool = False) -> SetOutcome:
        """Refused before anything is sent when the profile does not allow it; read back where that is possible."""
        if not restoring and (fault := self._part.fault_of(value)) is not None:
            raise ControlRefused(
                f"control {self.name} can't be set to {value}: {fault}; correct the plan or the bench profile"
            )
        write, read = partial(self.write, value, deadline), partial(self.read, deadline)
        if self.reads_back:
            found, elapsed_s = set_and_confirm(
                self.name, value, write, read, within_s=self._part.within_s, clock=self._clock, deadline=deadline
            )
            return SetOutcome(value, found, elapsed_s, self.by)
        started_s = self._clock.now_s()
        write()
        return SetOutcome(value, None, self._clock.now_s() - started_s, self.by)
