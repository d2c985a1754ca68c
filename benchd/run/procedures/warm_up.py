"""The warm-up: one reading a minute until what is still to come is little, or out of time.

Three things must hold (limits: common practice for the first, and for half its band what is to come):

- over the last ten minutes the light stayed in a band of 1 % without much slope;
- what is to come while the run lasts is at most 0.5 %, its uncertainty counted, and no more is likely within an hour;
- within a minute it does not swing by more than the band: looked at in the last minute before the earliest end, and
  again in each minute in which nothing else is wrong.

What the readings show of each is in `warm_up_stability`. It counts readings, not seconds, so that a replay ends where
the run did.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Literal

from benchd.instruments.meter import Reading
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.log.records import Body
from benchd.run.procedures.warm_up_stability import (
    AT_S,
    HOUR_MIN,
    STABLE_SPREAD,
    WARM_UP_EVERY_S,
    Swing,
    Trend,
    is_stable,
    swing_of,
    trend_of,
)
from benchd.run.rig import Performed, StepRig

TO_COME_AT_MOST = STABLE_SPREAD / 2.0
MIN_AHEAD_MINUTES = 10.0

Fault = Literal["band", "to come", "steady trend", "swings", "too few readings"]


def ahead_min(working_s: float) -> float:
    """For how long ahead is judged: while the run lasts, at least ten minutes and at most an hour."""
    return min(max(working_s / 60.0, MIN_AHEAD_MINUTES), HOUR_MIN)


def perform(step: Step, rig: StepRig) -> Performed:
    """Show, and read until the light is stable; some minutes characterise how the display settles."""
    rig.show()

    read = partial(rig.read_judged, step)

    def between_s(minute: int, light: float) -> float:
        return rig.adaptive.characterised_s(step, minute, light, rig.warm_up, rig.put, rig.read_unrecorded)

    body, light = warmed_up(rig.warm_up, rig.ahead_min, read, between_s, rig.sleep, rig.clock.now_s)
    return Performed(body | rig.adaptive.warmed(step.id, light))


def warmed_up(
    limits: WarmUpLimits,
    ahead: float,
    read: Callable[[int], Reading],
    between_s: Callable[[int, float], float],
    sleep: Callable[[float], None],
    now_s: Callable[[], float],
) -> tuple[Body, float]:
    """What ``done`` states of it, and the last luminance in cd/m2.

    ``ahead``: minutes that are judged; ``read``: takes the reading of that number (from 1) and keeps it.
    ``between_s``: called with the minute and its luminance after each reading that begins one but those with pairs;
    the seconds that it took of the minute. Time is for waiting alone: nothing is decided by it.
    """
    luminance: list[float] = []
    pairs: list[tuple[float, float]] = []
    faults: list[Fault] = []
    minute = number = 0

    def take() -> float:
        nonlocal number
        number += 1
        reading = read(number)
        return reading.xyz[1] if reading.xyz else 0.0

    while True:
        luminance.append(take())
        due = limits.until_stable and minute >= limits.at_least_min
        ends = minute >= limits.at_most_min
        if due or ends:
            trend, swing = trend_of(luminance, ahead), swing_of(pairs)
            faults = _faults(luminance, trend, swing)
            if ends or not faults:
                break
        rest_s = min(WARM_UP_EVERY_S, (limits.at_most_min - minute) * 60.0)
        if rest_s == WARM_UP_EVERY_S and minute + 1 >= limits.at_least_min and (not pairs or faults == ["swings"]):
            pairs, began_s = [], now_s()
            for at_s in AT_S:
                sleep(max(0.0, began_s + at_s - now_s()))
                pairs.append((take(), take()))
            sleep(max(0.0, began_s + rest_s - now_s()))
        else:
            sleep(rest_s - between_s(minute, luminance[-1]))
        minute += 1
    body: Body = {"readings": number, "stable": not faults, "minutes": float(minute), "not_stable_because": faults}
    if trend is not None:
        body["trend"] = {name: float(f"{value:.4g}") for name, value in trend._asdict().items()}
        body["trend"] |= {"k": float(f"{trend.k:.4g}"), "steady": trend.steady}
    if swing is not None:
        body["swing"] = {"peak_to_peak": float(f"{swing.peak_to_peak:.4g}"), "seen": swing.seen}
    return body, luminance[-1]


def _faults(luminance: Sequence[float], trend: Trend | None, swing: Swing | None) -> list[Fault]:
    """Reasons against stable light; none where it is stable."""
    if trend is None:
        return ["too few readings"]
    faults: list[Fault] = []
    if not is_stable(luminance):
        faults.append("band")
    if trend.most > TO_COME_AT_MOST or abs(trend.in_hour) + trend.u_in_hour > TO_COME_AT_MOST:
        faults.append("steady trend" if trend.steady else "to come")
    if swing is not None and swing.seen and swing.peak_to_peak > STABLE_SPREAD:
        faults.append("swings")
    return faults
