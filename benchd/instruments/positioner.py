"""What moves the meter over the screen: a child process that drives a motion stage."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from benchd.clock import Deadline
from benchd.errors import MoveFailed
from benchd.instruments.child import Child, ChildFailed


class Positioner(Protocol):
    """Moves the meter. ``move`` raises `MoveFailed` (or `MoveNeeded` when the operator must do it)."""

    by: str  # "mover" or "operator", for the log

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Put the meter at ``at``, fractions of width and height from the top left; ``place`` is its name."""

    def close(self) -> None:
        """Let go; never raises."""


class CommandPositioner:
    """A mover behind a child process: ``{"seq":1,"op":"move","x":0.1,"y":0.9,"place":"r2c3"}``, answered by
    ``{"seq":1,"ok":true}`` once the meter stands there, or ``{"seq":1,"ok":false,"text":"why"}``.

    The child is started with the first move. Raises `MoveFailed`.
    """

    by = "mover"

    def __init__(self, command: Sequence[str]) -> None:
        self._command = command
        self._child: Child | None = None

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Returns once the mover reports that the meter stands there."""
        try:
            if self._child is None:
                self._child = Child(self._command, key="seq")
            answer = self._child.ask("move", {"x": at[0], "y": at[1], "place": place}, deadline)
        except ChildFailed as failed:
            self.close()  # where it stands is unknown now; a new child may know it
            raise MoveFailed(f"the mover did not reach {place}: {failed}; look at the mover and resume") from None
        if answer.get("ok") is not True:
            why = answer.get("text") or "it gave no reason"
            raise MoveFailed(f"the mover did not reach {place}: {why}; look at the mover and resume")

    def close(self) -> None:
        """End the child."""
        if self._child is not None:
            self._child.close()
            self._child = None
