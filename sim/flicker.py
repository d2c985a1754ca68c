"""Light that swings by itself: a sine at the refresh rate, and a backlight dimmed by switching it on and off. Pure.

Both are means over a window of scene time, exactly: the integral of a sine, and the time that a pulse train is on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Flicker:
    """A mean of 1. ``refresh_depth``: amplitude of the sine; ``dimming_hz`` 0: not dimmed so."""

    refresh_hz: float = 60.0
    refresh_depth: float = 0.0
    dimming_hz: float = 0.0
    dimming_duty: float = 1.0

    def mean(self, start_s: float, duration_s: float) -> float:
        """Mean light of a window, as a share of the mean of all time."""
        return self._refresh(start_s, duration_s) * self._dimming(start_s, duration_s)

    def _refresh(self, start_s: float, duration_s: float) -> float:
        if not self.refresh_depth:
            return 1.0
        turn = 2.0 * math.pi * self.refresh_hz
        swing = math.cos(turn * start_s) - math.cos(turn * (start_s + duration_s))
        return 1.0 + self.refresh_depth * swing / (turn * duration_s)

    def _dimming(self, start_s: float, duration_s: float) -> float:
        if not self.dimming_hz or self.dimming_duty >= 1.0:
            return 1.0
        first, last = start_s * self.dimming_hz, (start_s + duration_s) * self.dimming_hz
        return (self._on_until(last) - self._on_until(first)) / ((last - first) * self.dimming_duty)

    def _on_until(self, periods: float) -> float:
        """Periods of light since time 0; each begins with it."""
        whole = math.floor(periods)
        return whole * self.dimming_duty + min(periods - whole, self.dimming_duty)
