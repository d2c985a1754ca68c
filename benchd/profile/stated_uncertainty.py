"""What is stated of the meter's uncertainty in a bench profile: certificate, data sheet, experience."""

from __future__ import annotations

import calendar
import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import ProfileModel, wrong
from benchd.profile.reading.explain import show


def _day(value: Any) -> str:
    match = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", str(value))
    if match:
        year, month, day = (int(part) for part in match.groups())
        if year and 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]:
            return match[0]
    raise wrong(f"date {show(value)}: write year-month-day, such as 2026-03-02")


Day = Annotated[str, BeforeValidator(_day), WithJsonSchema({"type": "string", "format": "date"})]


class MeterUncertainty(ProfileModel):
    """Each figure as it stands on the certificate or data sheet: plus or minus so much, at the coverage factor k.

    A figure that is left out counts as zero; the section left out: no uncertainty of the meter is stated at all, and
    results report it.
    """

    k: float = Field(default=2.0, ge=1, le=4, description="coverage factor of all figures here; 1: they are standard")
    calibration_percent: float = Field(default=0.0, ge=0, le=50, description="luminance scale, % of the reading")
    chromaticity_xy: float = Field(default=0.0, ge=0, le=0.1, description="x and y of a white, such as 0.002")
    linearity_percent: float = Field(
        default=0.0, ge=0, le=50, description="change of the luminance scale with level, % of the reading"
    )
    zero_cd_m2: float = Field(default=0.0, ge=0, le=10, description="what it reads with its sensor capped, cd/m2")
    drift_percent_per_year: float = Field(
        default=0.0, ge=0, le=50, description="change of the scale in a year since its calibration, %"
    )
    placement_percent: float = Field(
        default=0.0, ge=0, le=50, description="luminance when the meter is taken away and put back, %"
    )
    instrument: Literal["filter", "spectroradiometer"] = Field(
        default="filter",
        description="kind of meter. The scale and colour errors of a filter meter are the same within one technology "
        "and one correction only; those of a spectroradiometer for all displays",
    )
    calibrated: Day | None = Field(
        default=None, description="day of the last calibration, where the meter does not report it, such as 2026-03-02"
    )

    def normalised(self) -> Mapping[str, Any]:
        """For the log: every key, so that a later benchd with other defaults reads the same."""
        return self.model_dump(mode="json")
