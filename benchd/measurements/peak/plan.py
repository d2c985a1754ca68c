"""Peak luminance in a plan: its keys and its steps."""

from __future__ import annotations

from pydantic import Field

from benchd.plan.measurement import PlanPart
from benchd.plan.windows_layout import Windows, describe, steps
from benchd.profile.reading.values import AreaPercent


class Peak(Windows):
    """Luminance of a bright window on black over its size and over time, each after a rest in the dark."""

    areas_percent: tuple[AreaPercent, ...] = Field(
        default=(1.0, 2.0, 3.0, 5.0, 10.0, 18.0, 25.0, 50.0, 75.0, 100.0),
        min_length=1,
        max_length=24,
        description="sizes of the window, percent of the screen's area",
    )
    for_s: float = Field(default=60.0, ge=10, le=120, description="seconds that each window is read for")
    black_s: float = Field(default=10.0, ge=5, le=600, description="seconds of black before each window")

    @property
    def window_s(self) -> float:
        """Seconds that each window is read for."""
        return self.for_s


PART = PlanPart(Peak, steps, describe, example={"areas_percent": [10], "for_s": 10, "black_s": 5}, signal="any")
