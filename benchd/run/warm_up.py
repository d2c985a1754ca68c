"""The warm-up: one reading a minute until the light is stable, or out of time.

It counts readings, not seconds, so that a replay ends where the run did.
"""

from __future__ import annotations

from collections.abc import Callable

from benchd.instruments.meter import Reading
from benchd.plan.model import WarmUpLimits
from benchd.run.records import Body
from benchd.run.settle import WARM_UP_EVERY_S, is_stable


def warmed_up(
    limits: WarmUpLimits,
    read: Callable[[int], Reading],
    between_s: Callable[[int, float], float],
    sleep: Callable[[float], None],
) -> tuple[Body, float]:
    """What ``done`` says of it, and the last luminance in cd/m2.

    ``read``: takes the reading of that number (from 1) and keeps it. ``between_s``: called with the minute and its
    luminance after each reading but the last; the seconds that it took of the minute.
    """
    luminance: list[float] = []
    minute = 0
    while True:
        reading = read(minute + 1)
        luminance.append(reading.xyz[1] if reading.xyz else 0.0)
        stable = is_stable(luminance)
        enough = limits.until_stable and stable and minute >= limits.at_least_min
        if enough or minute >= limits.at_most_min:
            break
        spent_s = between_s(minute, luminance[-1])
        sleep(min(WARM_UP_EVERY_S, (limits.at_most_min - minute) * 60.0) - spent_s)
        minute += 1
    return {"readings": len(luminance), "stable": stable, "minutes": float(minute)}, luminance[-1]
