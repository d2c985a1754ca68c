"""When a reading may start: settling after a change, the warm-up's stability, and the flash guard."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.clock import Clock, StopRequest

WARM_UP_EVERY_S = 60.0
STABLE_READINGS = 11  # ten minutes at one reading a minute
STABLE_SPREAD = 0.01
STABLE_SLOPE = 0.003

MIN_BETWEEN_ALTERNATIONS_S = 1.0


def is_stable(luminance_cd_m2: Sequence[float]) -> bool:
    """True when the last ten minutes of one reading a minute are stable.

    ``luminance_cd_m2``: readings one minute apart, oldest first. Stable: (max - min)/mean at most 1 % and
    the least-squares slope at most 0.3 % in ten minutes (common practice).
    """
    if len(luminance_cd_m2) < STABLE_READINGS:
        return False
    last = luminance_cd_m2[-STABLE_READINGS:]
    mean = sum(last) / len(last)
    if mean <= 0:
        return False
    middle = (STABLE_READINGS - 1) / 2
    weights = [index - middle for index in range(STABLE_READINGS)]
    per_minute = sum(w * v for w, v in zip(weights, last, strict=True)) / sum(w * w for w in weights)
    drift = abs(per_minute) * (STABLE_READINGS - 1) / mean
    return (max(last) - min(last)) / mean <= STABLE_SPREAD and drift <= STABLE_SLOPE


class FlashGuard:
    """Holds light and dark to at most one change a second, whatever the plan, retries and resumes do.

    Method after WCAG 2.x success criterion 2.3.1 (what counts as a flash), with a rate far below its
    limit of three flashes a second.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._last_s: float | None = None

    def wait(self, alternates: bool, stop: StopRequest) -> None:
        """Call before a patch is shown; ``alternates``: it changes light to dark or back."""
        if not alternates:
            return
        now_s = self._clock.now_s()
        if self._last_s is not None:
            rest_s = self._last_s + MIN_BETWEEN_ALTERNATIONS_S - now_s
            if rest_s > 0:
                self._clock.sleep(rest_s, stop)
                now_s += rest_s
        self._last_s = now_s
