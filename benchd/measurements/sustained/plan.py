"""Sustained luminance in a plan: its keys and its steps."""

from __future__ import annotations

from pydantic import Field

from benchd.plan.measurement import PlanPart
from benchd.plan.windows_layout import Windows, describe, steps
from benchd.profile.reading.values import AreaPercent


class Sustained(Windows):
    """Luminance of a bright window that stays: how much is left after minutes. It loads the panel."""

    areas_percent: tuple[AreaPercent, ...] = Field(
        default=(10.0, 100.0), min_length=1, max_length=8, description="sizes of the window, percent of the area"
    )
    minutes: float = Field(default=10.0, ge=1, le=30, description="minutes that each window stays; 30 at most")
    black_s: float = Field(default=30.0, ge=5, le=3600, description="seconds of black before each window")

    @property
    def window_s(self) -> float:
        """Seconds that each window is read for."""
        return 60.0 * self.minutes


PART = PlanPart(Sustained, steps, describe, example={"areas_percent": [10], "minutes": 1, "black_s": 5}, signal="any")
