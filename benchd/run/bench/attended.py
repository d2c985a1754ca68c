"""Places that need the operator: the cap on the meter, the display switched off; and back again.

Around the positioner: the operator is prompted on the way there and on the way back, whatever moves the meter
between real places. A mover that has a shutter (``caps: true`` in the bench) gets the names instead.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from benchd.clock import Deadline
from benchd.errors import BenchdError, MoveNeeded
from benchd.instruments.control import Ask as AskToSet
from benchd.instruments.positioner import Positioner
from benchd.patch.model import field, grey
from benchd.patch.screen import Screen
from benchd.plan.offset_readings import BACK, SENTENCES
from benchd.plan.step import ATTENDED

Ask = Callable[[str, tuple[float, float]], None]
BLACK_WITHIN_S = 5.0


def request(place: str, at: tuple[float, float]) -> str:
    """What the operator is requested to do, as a sentence without its full stop."""
    where = f"the bright spot: {100 * at[0]:.0f} % of the width, {100 * at[1]:.0f} % of the height"
    return SENTENCES.get(place) or f"Move the meter to {place} ({where})"


def dark_while_prompting(ask: AskToSet, screen: Callable[[], Screen]) -> AskToSet:
    """``ask`` with the screen black meanwhile: it may take long, and the patch before may be a bright one.

    A screen that does not answer is left to the next patch.
    """

    def asked(sentence: str) -> None:
        with suppress(BenchdError):
            screen().show(field(grey(0)), Deadline.after(BLACK_WITHIN_S))
        ask(sentence)

    return asked


@dataclass(slots=True)
class ManualPositioner:
    """The operator moves the meter; ``ask`` prompts."""

    ask: Ask
    by: str = "operator"

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Request the move; returns once it is confirmed, however long that takes."""
        self.ask(place, at)

    def close(self) -> None:
        """Nothing to let go of."""


def no_operator_to_ask(place: str, at: tuple[float, float]) -> None:
    """The `Ask` of a run without a terminal."""
    if place in SENTENCES:
        raise MoveNeeded(f"{SENTENCES[place]}, and resume: this run has no terminal to prompt at")
    raise MoveNeeded(
        f"the operator must move the meter to {place} ({at[0]:.0%} of the width, {at[1]:.0%} of the height) "
        "and this run has no terminal to prompt at; move it and resume"
    )


class AttendedPositioner:
    """A `Positioner` that prompts the operator for what the one behind it can't do. Raises what both raise."""

    def __init__(self, inner: Positioner, ask: Ask, *, caps: bool = False) -> None:
        self.inner, self._ask, self._caps = inner, ask, caps
        self.by = inner.by
        self.confirmed = ""
        """The place that an earlier session requested: the resume takes it as done."""
        self._stands = ""

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Returns once the meter stands there, or the operator confirms it."""
        confirmed, self.confirmed = self.confirmed, ""
        if self._caps:
            self.inner.move(place, at, deadline)
        elif place in ATTENDED:
            if confirmed != place:
                self._ask(place, at)
        else:
            if self._stands in ATTENDED:
                self._ask(BACK[self._stands], at)
            if self.by != "operator" or self._stands not in ATTENDED or place != "centre":
                self.inner.move(place, at, deadline)
        self._stands = place

    def close(self) -> None:
        self.inner.close()
