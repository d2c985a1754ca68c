"""The patch that a session has put on the screen: how soon the next may follow, and for how long a bright one is on."""

from __future__ import annotations

from collections.abc import Callable

from benchd.clock import Deadline, StopRequest
from benchd.patch.model import Patch, field, grey
from benchd.patch.screen import Shown
from benchd.plan.safety import is_alternation, is_bright
from benchd.run.rig import Rig
from benchd.run.settle import FlashGuard

SHOW_WITHIN_S = 5.0
BLACK = field(grey(0))


class OnScreen:
    """What is on the screen of ``rig``; ``heed`` raises where the operator has requested a stop."""

    def __init__(self, rig: Rig, stop: StopRequest, heed: Callable[[], None]) -> None:
        self.patch: Patch = BLACK
        self._rig, self._stop, self._heed = rig, stop, heed
        self._guard = FlashGuard(rig.clock)
        self._bright_since_s: float | None = None

    @property
    def lit_s(self) -> float:
        """For how long one bright patch has been on the screen, s; 0 for any other."""
        return 0.0 if self._bright_since_s is None else self._rig.clock.now_s() - self._bright_since_s

    def put(self, patch: Patch) -> Shown:
        """Show another patch, not sooner than is safe for a viewer. Raises a `ScreenError`."""
        self._guard.wait(is_alternation(self.patch, patch), self._stop)
        self._heed()
        if not is_bright(patch):
            self._bright_since_s = None
        elif self._bright_since_s is None or patch != self.patch:
            self._bright_since_s = self._rig.clock.now_s()
        self.patch = patch
        return self._rig.screen.show(patch, Deadline.after(SHOW_WITHIN_S))
