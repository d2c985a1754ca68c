"""Errors of a simulated meter that no number of readings shows: scale, linearity, colour, zero, placing. SIMULATED.

The shipped meters have none but their spectral mismatch. Studies of uncertainty draw them from the distributions that
a bench profile states.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from sim.sensor import Gauss4, SensorModel
from sim.spectra import Triple


@dataclass(slots=True)
class Placing:
    """How the meter stands just now: a factor on all light, another one each time that it is moved."""

    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class MeterErrors:
    """What one meter does wrong, all as fractions but ``zero``, which is in cd/m2 for X, Y, Z.

    ``linearity``: error of the scale at powers of ten of luminance. Between two of them both count, with weights whose
    squares add up to 1, so that the error is equally large everywhere.
    """

    scale: float = 0.0
    gain_x: float = 0.0
    gain_z: float = 0.0
    zero: Triple = (0.0, 0.0, 0.0)
    linearity: Mapping[int, float] = field(default_factory=dict)

    def seen(self, xyz: Triple, placing: float) -> Triple:
        """What the meter makes of X, Y, Z, before its noise."""
        gain = placing * (1.0 + self.scale) * (1.0 + self._bent(xyz[1]))
        return (
            xyz[0] * gain * (1.0 + self.gain_x) + self.zero[0],
            xyz[1] * gain + self.zero[1],
            xyz[2] * gain * (1.0 + self.gain_z) + self.zero[2],
        )

    def _bent(self, luminance: float) -> float:
        if not self.linearity or luminance <= 0.0:
            return 0.0
        level = min(max(math.log10(luminance), min(self.linearity)), max(self.linearity))
        below = min(math.floor(level), max(self.linearity) - 1)
        share = level - below
        error = (1.0 - share) * self.linearity[below] + share * self.linearity[below + 1]
        return error / math.hypot(share, 1.0 - share)


@dataclass(frozen=True, slots=True)
class ErringSensor(SensorModel):
    """A sensor with errors of its own on top of its noise."""

    errors: MeterErrors = field(default_factory=MeterErrors)
    placing: Placing = field(default_factory=Placing)

    def disturbed(self, xyz: Triple, integration_s: float, gauss: Gauss4) -> Triple:
        """``xyz`` as this meter sees it, with noise."""
        return SensorModel.disturbed(self, self.errors.seen(xyz, self.placing.factor), integration_s, gauss)
