"""What an estimate and a caution need of a bench, and what they suppose where no bench is named.

Apart from the model of a whole bench, which takes four times as long to import as all that a plan needs here.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from pydantic import Field

from benchd.profile.reading.base import ProfileModel


class Timing(ProfileModel):
    """What things take, for the estimate only."""

    reading_s: float = Field(default=0.6, gt=0, le=600, description="seconds of one reading")
    dark_reading_s: float = Field(
        default=2.0, gt=0, le=600, description="seconds of one reading of a dark patch when the meter decides"
    )
    show_s: float = Field(default=0.05, ge=0, le=60, description="seconds until a patch is on the screen")
    move_s: float = Field(default=15.0, ge=0, le=3600, description="seconds of one move of the meter")


class AnyBench(NamedTuple):
    """What estimates and cautions need of a bench: typical timing, and an operator who moves the meter."""

    bench: str = ""
    is_simulated: bool = False
    panel: Literal["lcd", "emissive"] = "lcd"
    manual_moves: bool = True
    # Its defaults need no validation, and without it no validator has to be built.
    timing: Timing = Timing.model_construct()
