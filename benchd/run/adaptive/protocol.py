"""What an adaptive reading does for a run, and what it is given for that."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from benchd.instruments.meter import Reading
from benchd.patch.model import Patch
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.light_monitor import ReferenceCheck
from benchd.run.log.records import Body

Read = Callable[[Step, int], Reading]
"""Takes the reading of that number with the step's integration time, and keeps it."""
Unkept = Callable[[float | None], Reading]
"""Takes a reading of that integration time that is no result."""
Sleep = Callable[[float], None]
Show = Callable[[Patch], object]
"""Puts a patch on the screen."""


class AdaptiveReading(Protocol):
    """Reads steps to a precision, and learns on the way: in a run, or from a log that is replayed."""

    def lead_in(self, index: int) -> tuple[Patch, float] | None:
        """What has to be on the screen before the step of that index (from 1), and for how long if it was not."""

    def read(
        self, step: Step, index: int, read: Read, settled: Callable[[Body], None], sleep: Sleep
    ) -> tuple[list[Reading], Body]:
        """The readings that count, with what ``done`` states besides their number."""

    def check(
        self, step: Step, share: float, read: Unkept, disagree: Callable[[list[Reading]], bool], sleep: Sleep
    ) -> ReferenceCheck:
        """A reference check of ``step``, settled as the step was.

        ``share``: repeatability of their mean; ``disagree``: whether readings are not the light they were.
        """

    def characterised_s(
        self, step: Step, minute: int, light: float, limits: WarmUpLimits, show: Show, read: Unkept
    ) -> float:
        """Run a characterisation after that minute of a warm-up, if one is due; how many seconds it took."""

    def warmed(self, step: str, luminance_cd_m2: float) -> Body:
        """What the ``done`` of a warm-up states for the step after it."""
