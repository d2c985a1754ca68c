"""How long a run still takes, corrected by how long its steps took so far. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

from benchd.plan.step import Step

if TYPE_CHECKING:
    from benchd.plan.plan import WarmUpLimits

TRUST_S = 60.0
"""How long the estimate weighs as much as what was seen: after this time both count the same."""
COMMON_TRUST_S = 300.0
"""The same for what is concluded for blocks that have not begun: the first blocks of a plan are often short."""


class TimeLeft:
    """Takes the end of each step and its time; ``done`` are the steps of earlier sessions.

    The warm-up has a minimum and a maximum, and so has the time that is left until it is over. What is left of a block
    is scaled by how long its steps took so far against ``planned_s``, at other points of a sweep too: of what dark
    patches or an operator take longer, another block learns nothing. One that has not begun is scaled by what all
    blocks so far have in common, such as a slower meter.
    """

    def __init__(
        self,
        steps: Sequence[Step],
        planned_s: Sequence[float],
        warm_up: WarmUpLimits | None,
        done: Collection[str] = (),
    ) -> None:
        self._planned_s = {step.id: seconds for step, seconds in zip(steps, planned_s, strict=True)}
        self._block = {step.id: step.base for step in steps}
        self._warm_up = next((step.id for step in steps if step.kind == "warm_up"), "")
        end_s = self._planned_s.get(self._warm_up, 0.0)
        self._planned_s |= {self._warm_up: 0.0} if self._warm_up else {}
        self._minimum_s = warm_up.at_least_min * 60.0 + end_s if warm_up and self._warm_up else 0.0
        self._maximum_s = warm_up.at_most_min * 60.0 + end_s if warm_up and self._warm_up else 0.0
        self._waiting = {name: seconds for name, seconds in self._planned_s.items() if name not in done}
        self._waiting_s: dict[str, float] = {}  # by block, and so the two below
        for name, seconds in self._waiting.items():
            self._waiting_s[self._block[name]] = self._waiting_s.get(self._block[name], 0.0) + seconds
        self._over_s = sum(self._planned_s.values()) - sum(self._waiting.values())
        self._planned_here_s: dict[str, float] = {}
        self._took_here_s: dict[str, float] = {}
        self._warmed_s = 0.0
        self._share = 0.0
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
        block = self._block[step]
        self._waiting_s[block] -= planned_s
        self._planned_here_s[block] = self._planned_here_s.get(block, 0.0) + planned_s
        self._took_here_s[block] = self._took_here_s.get(block, 0.0) + took_s
        self._over_s += took_s

    def left_out(self, steps: Iterable[str]) -> None:
        """These steps will not be done."""
        for step in steps:
            if step in self._waiting:
                self._waiting_s[self._block[step]] -= self._waiting.pop(step)

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
        """How much of the run's time is over, 0 to 1; it never falls, though what is left may grow."""
        left_s = (self.minimum_s + self.maximum_s) / 2
        now = 1.0 if not self._waiting else self._over_s / ((self._over_s + left_s) or 1.0)
        self._share = max(self._share, now)
        return self._share

    @property
    def _steps_s(self) -> float:
        common = self._paces(COMMON_TRUST_S).values()
        pace = max(1.0, min(common, default=1.0)) * min(1.0, max(common, default=1.0))
        own = self._paces(TRUST_S)
        return sum(max(0.0, seconds) * own.get(block, pace) for block, seconds in self._waiting_s.items())

    def _paces(self, trust_s: float) -> dict[str, float]:
        """How much longer than planned the steps of each block took so far."""
        took, planned = self._took_here_s, self._planned_here_s
        return {block: (took[block] + trust_s) / (planned[block] + trust_s) for block in took}
