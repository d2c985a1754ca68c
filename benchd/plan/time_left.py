"""How far a run is and how long it still takes: the estimate, corrected by what the run has really taken.

Pure bookkeeping in seconds of bench time.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

from benchd.plan.estimate import moves_before, step_seconds
from benchd.plan.step import Step

if TYPE_CHECKING:
    from benchd.plan.plan import WarmUpLimits
    from benchd.profile.timing import Timing

TRUST_S = 60.0
"""How long the estimate weighs as much as what was seen: after this time both count the same."""


class TimeLeft:
    """Takes the end of each step and its time; ``done`` are the steps of earlier sessions.

    The warm-up has a minimum and a maximum, and so has the time that is left until it is over.
    """

    def __init__(
        self, steps: Sequence[Step], timing: Timing, warm_up: WarmUpLimits | None, done: Collection[str] = ()
    ) -> None:
        moves = zip(steps, moves_before(steps), strict=True)
        self._planned_s = {step.id: step_seconds(step, timing) + moved * timing.move_s for step, moved in moves}
        self._warm_up = next((step.id for step in steps if step.kind == "warm_up"), "")
        self._minimum_s = warm_up.at_least_min * 60.0 if warm_up and self._warm_up else 0.0
        self._maximum_s = warm_up.at_most_min * 60.0 if warm_up and self._warm_up else 0.0
        self._waiting = {name: seconds for name, seconds in self._planned_s.items() if name not in done}
        self._waiting_s = sum(self._waiting.values())
        self._over_s = sum(self._planned_s.values()) - self._waiting_s
        self._planned_here_s = self._took_here_s = self._warmed_s = 0.0
        self._is_warm = False
        if self._warm_up and self._warm_up not in self._waiting:
            self._warmed_up(self._minimum_s)

    def warming(self, took_s: float) -> None:
        """The warm-up has gone on for ``took_s`` since it began; not the readings at its end, which come later."""
        if self._is_warm:
            return
        more_s = took_s - self._warmed_s
        self._minimum_s, self._maximum_s = max(0.0, self._minimum_s - more_s), max(0.0, self._maximum_s - more_s)
        self._over_s += more_s
        self._warmed_s = took_s

    def finished(self, step: str, took_s: float) -> None:
        """A step is done; ``took_s`` with its move. Reported twice, it counts once."""
        planned_s = self._waiting.pop(step, None)
        if planned_s is None:
            return
        if step == self._warm_up:
            self._warmed_up(took_s)
            return
        self._waiting_s -= planned_s
        self._planned_here_s += planned_s
        self._took_here_s += took_s
        self._over_s += took_s

    def _warmed_up(self, took_s: float) -> None:
        self.warming(took_s)
        self._minimum_s = self._maximum_s = 0.0
        self._is_warm = True

    @property
    def minimum_s(self) -> float:
        """The minimum of what is left."""
        return self._minimum_s + self._steps_s

    @property
    def maximum_s(self) -> float:
        """What is left at the most: more than `minimum_s` only while the warm-up is not over."""
        return self._maximum_s + self._steps_s

    @property
    def share(self) -> float:
        """How much of the run is over, 0 to 1."""
        left_s = (self.minimum_s + self.maximum_s) / 2
        return 1.0 if not self._waiting else self._over_s / ((self._over_s + left_s) or 1.0)

    @property
    def _steps_s(self) -> float:
        pace = (self._took_here_s + TRUST_S) / (self._planned_here_s + TRUST_S)
        return max(0.0, self._waiting_s) * pace
