"""How the light of a simulated display drifts by itself: a random walk, and steps. Pure. SIMULATED.

The random walk is a Brownian motion of the luminance, the same at any moment at every look. A step is what a
supply or a controller does: from one moment on the light is another, and stays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random

GRID_S = 1.0
"""Between the points of the walk it goes straight."""


@dataclass(slots=True)
class LightDrift:
    """A factor on all light.

    ``walk_percent``: standard deviation of the change of luminance in one hour, which grows with the root of time.
    ``steps``: moments in seconds of scene time, each with the change from then on in percent.
    """

    walk_percent: float = 0.0
    steps: tuple[tuple[float, float], ...] = ()
    seed: int = 0
    _points: list[float] = field(default_factory=lambda: [0.0])
    _dice: Random = field(default_factory=Random)

    def __post_init__(self) -> None:
        self._dice = Random(f"walk {self.seed}")

    def factor(self, at_s: float) -> float:
        """1 at the start, without steps."""
        factor = 1.0
        for begins_s, percent in self.steps:
            if at_s >= begins_s:
                factor *= 1.0 + percent / 100.0
        return factor * (1.0 + self._walked(max(at_s, 0.0))) if self.walk_percent else factor

    def _walked(self, at_s: float) -> float:
        index = int(at_s / GRID_S)
        size = self.walk_percent / 100.0 * math.sqrt(GRID_S / 3600.0)
        while len(self._points) < index + 2:
            self._points.append(self._points[-1] + self._dice.gauss(0.0, size))
        before, after = self._points[index], self._points[index + 1]
        return before + (after - before) * (at_s / GRID_S - index)


def step_of(text: str) -> tuple[float, float]:
    """``600:1.5``: after 600 s the light is 1.5 % brighter. Raises ``ValueError`` for anything else."""
    at_s, percent = text.split(":")
    return float(at_s), float(percent)


def light_drift_of(walk_percent: float, steps: list[tuple[float, float]], seed: int) -> LightDrift | None:
    """None where the light neither drifts nor steps."""
    return LightDrift(walk_percent, tuple(steps), seed) if walk_percent or steps else None
