"""What a bench states of its display's light: what estimates expect of it, and how it flickers."""

from __future__ import annotations

from pydantic import Field

from benchd.profile.reading.base import ProfileModel, Rule


class Expected(ProfileModel):
    """Light, settling and noise as they were found on this bench before, for plans that are read to a precision."""

    white_cd_m2: float = Field(default=200.0, gt=0, description="luminance of white, full screen")
    black_cd_m2: float = Field(default=0.2, ge=0, description="luminance of black, full screen")
    gamma: float = Field(default=2.2, ge=1, le=4, description="exponent of the tone curve")
    rise_tau_s: float = Field(default=0.02, ge=0, le=60, description="time constant of getting brighter")
    fall_tau_s: float = Field(default=0.03, ge=0, le=60, description="time constant of getting darker")
    slow_share: float = Field(
        default=0.0, ge=0, le=0.5, description="share of every change that follows later, with slow_tau_s"
    )
    slow_tau_s: float = Field(default=1.0, gt=0, le=60, description="time constant of that share")
    limiting: float = Field(
        default=0.0,
        ge=0,
        le=20,
        description="by how much a small white patch is brighter than a white screen, as a share: 1 where it is twice "
        "as bright, 0 where the display does not limit its brightness",
    )
    dark_noise_cd_m2: float = Field(
        default=5e-4, ge=0, description="standard deviation of one reading of noise_at_s in the dark (s0)"
    )
    shot_noise: float = Field(default=2e-3, ge=0, description="its part that grows with the root of luminance (a)")
    scale_noise: float = Field(default=1e-3, ge=0, description="its part that is proportional to luminance (r)")
    noise_at_s: float = Field(default=0.2, gt=0, le=60, description="integration time that the noise is stated for")
    noise_dof: float = Field(
        default=0.0,
        ge=0,
        le=10_000,
        description="degrees of freedom of the noise at each level where it was found on this bench with this meter; "
        "0: an estimate only, and a run learns the noise itself",
    )


class Flicker(ProfileModel):
    """How the light swings by itself while one patch is on the screen.

    A photodiode on the screen shows it; what is left out is not known, and no uncertainty is counted for it.
    """

    key_rules = (
        Rule(("dimming_duty",), ("dimming_hz",), "a duty needs the rate too: dimming_hz: 240", "dimming_duty"),
    )

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
