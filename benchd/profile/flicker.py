"""What a bench states of its display's flicker: the frequencies of its light, and their depth.

A photodiode on the screen shows it; what is left out is not known, and no uncertainty is counted for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import Field

from benchd.profile.reading.base import ProfileModel, Wrong


class Flicker(ProfileModel):
    """How the light swings by itself while one patch is on the screen."""

    refresh_hz: float | None = Field(
        default=None,
        ge=1,
        le=2000,
        description="pictures a second, as measured: 59.94 is not 60; left out: from the timing of the screen's mode",
    )
    refresh_depth: float | None = Field(
        default=None,
        ge=0,
        le=1,
        description="amplitude of the swing at the refresh, share of the mean: (Lmax - Lmin) / (Lmax + Lmin)",
    )
    dimming_hz: float | None = Field(
        default=None, ge=10, le=1_000_000, description="rate of a backlight that is dimmed by switching it on and off"
    )
    dimming_duty: float = Field(
        default=0.1,
        gt=0,
        le=1,
        description="share of the time that it is on, at the lowest brightness that is measured",
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A duty of nothing."""
        if "dimming_duty" in data and "dimming_hz" not in data:
            yield Wrong(("dimming_duty",), "a duty needs the rate too: dimming_hz: 240", at_key=True)
