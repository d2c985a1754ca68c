"""The physics of the simulated meter: integration, noise, spectral mismatch, resolution, range. Pure.

Repeatability as is common practice, u_rep^2 = s0^2 + (a sqrt L)^2 + (r L)^2: dark noise, shot
noise and noise of the scale. It is stated for `REFERENCE_INTEGRATION_S` and falls with the square root of
the integration time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from hashlib import blake2b
from random import Random
from typing import Literal

from sim.spectra import Triple

Gauss4 = tuple[float, float, float, float]
NoiseMode = Literal["per-patch", "sequence", "none"]

REFERENCE_INTEGRATION_S = 0.2
SHORTEST_S, LONGEST_S = 0.1, 4.0


@dataclass(frozen=True, slots=True)
class SensorModel:
    """The figures of one invented meter."""

    dark_cd_m2: float = 5e-4  # s0
    shot: float = 2e-3  # a, in (cd/m2)^0.5
    scale: float = 1e-3  # r
    floor_cd_m2: float = 0.005
    ceiling_cd_m2: float = 3000.0
    filter_shift_nm: float = 0.0  # spectral mismatch: all filters this far from the observer
    offset_cd_m2: Triple = (0.0, 0.0, 0.0)  # what it reads beside the light, as with its cap on
    placed: Triple = (1.0, 1.0, 1.0)  # factors on X, Y, Z by how the meter stands on the screen just now
    auto_s: float = 2.0  # automatic integration at 1 cd/m2; it falls with the root of luminance

    def integration_s(self, luminance_cd_m2: float) -> float:
        """The integration time that the meter chooses by itself, in whole milliseconds."""
        if luminance_cd_m2 <= 0.0:
            return LONGEST_S
        wanted = self.auto_s / math.sqrt(luminance_cd_m2)
        return round(min(max(wanted, SHORTEST_S), LONGEST_S), 3)

    def repeatability_cd_m2(self, luminance_cd_m2: float, integration_s: float) -> float:
        """Standard deviation of one reading of luminance."""
        level = max(luminance_cd_m2, 0.0)
        variance = self.dark_cd_m2**2 + self.shot**2 * level + (self.scale * level) ** 2
        return math.sqrt(variance * REFERENCE_INTEGRATION_S / integration_s)

    def disturbed(self, xyz: Triple, integration_s: float, gauss: Gauss4) -> Triple:
        """``xyz`` with noise: three independent sensors, and one scale that all share."""
        shrink = math.sqrt(REFERENCE_INTEGRATION_S / integration_s)
        shared = self.scale * gauss[3]
        out = []
        seen = (xyz[0] * self.placed[0], xyz[1] * self.placed[1], xyz[2] * self.placed[2])
        for value, own, offset in zip(seen, gauss[:3], self.offset_cd_m2, strict=True):
            level = max(value, 0.0)
            alone = math.sqrt(self.dark_cd_m2**2 + self.shot**2 * level)
            out.append(value + offset + shrink * (alone * own + level * shared))
        return (out[0], out[1], out[2])


METERS = {
    "reference": SensorModel(),
    "colorimeter": SensorModel(filter_shift_nm=2.0),
}
"""The meters that a simulated bench can have; both invented."""


class Noise:
    """Where the noise comes from.

    per-patch  a pure function of seed, picture, place and the number of readings since the picture was shown:
               a run that was killed and resumed reads the same values as one that was not (while the
               display is warm, does not drift, and settles for half a second before it is read)
    sequence   one seeded stream: the order of all readings matters
    none       no noise at all

    ``correlation_s`` above 0: the noise of a reading goes on in the next, with the correlation exp(-t / correlation_s)
    after t seconds (a first-order autoregressive process, of the same standard deviation), from patch to patch too.
    """

    def __init__(self, mode: NoiseMode, seed: int, correlation_s: float = 0.0) -> None:
        self.mode: NoiseMode = mode
        self._seed = seed
        self._stream = Random(seed)
        self._correlation_s = correlation_s
        self._last: tuple[float, Gauss4] | None = None

    def draw(self, digest: str, place: tuple[float, float], number: int, at_s: float = 0.0) -> Gauss4:
        """Four standard normal numbers, independent of each other, for a reading at ``at_s`` of scene time."""
        fresh = self._fresh(digest, place, number)
        if self._correlation_s <= 0.0 or self.mode == "none":
            return fresh
        if self._last is not None:
            before_s, last = self._last
            rho = math.exp(-max(at_s - before_s, 0.0) / self._correlation_s)
            rest = math.sqrt(1.0 - rho * rho)
            a, b, c, d = (rho * old + rest * new for old, new in zip(last, fresh, strict=True))
            fresh = (a, b, c, d)
        self._last = (at_s, fresh)
        return fresh

    def _fresh(self, digest: str, place: tuple[float, float], number: int) -> Gauss4:
        """Independent of all readings before."""
        if self.mode == "none":
            return (0.0, 0.0, 0.0, 0.0)
        if self.mode == "sequence":
            gauss = self._stream.gauss
            return gauss(0, 1), gauss(0, 1), gauss(0, 1), gauss(0, 1)
        key = f"{self._seed}|{digest}|{place[0]:.6f}|{place[1]:.6f}|{number}".encode()
        raw = blake2b(key, digest_size=32).digest()
        uniform = [(int.from_bytes(raw[i : i + 8], "big") + 0.5) / 2.0**64 for i in (0, 8, 16, 24)]
        return *_box_muller(uniform[0], uniform[1]), *_box_muller(uniform[2], uniform[3])


def _box_muller(first: float, second: float) -> tuple[float, float]:
    radius = math.sqrt(-2.0 * math.log(first))
    return radius * math.cos(2.0 * math.pi * second), radius * math.sin(2.0 * math.pi * second)
