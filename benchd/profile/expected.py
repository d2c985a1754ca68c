"""What a bench expects of its display and its meter: for estimates of plans that are read to a precision."""

from __future__ import annotations

from pydantic import Field

from benchd.profile.reading.base import ProfileModel


class Expected(ProfileModel):
    """Light, settling and noise as they were found on this bench before."""

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
