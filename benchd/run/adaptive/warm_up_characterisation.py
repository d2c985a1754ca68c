"""Characterisation during a warm-up: how the panel settles after large changes, and the noise of readings.

The minutes of a warm-up are free, and a pattern that changes is what a warm-up is advised to show (common practice). So
black, a dark grey, a grey, white, black, the dark grey and black again follow each other between two of its readings,
long enough to see settling of ten seconds. Only for plans that request a precision. No reading of them is a result.

A display that warms up drifts, which would look like slow settling: so each part is compared with the same part a
minute before, and the slope between the two is subtracted. The first one, which has none before it, shows no settling.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import fmean
from typing import NamedTuple

from benchd.instruments.meter import Reading
from benchd.patch.model import Patch, grey, max_code
from benchd.plan.plan import WarmUpLimits
from benchd.run.adaptive.adaptive import FIRST_WATCH_S, SAME_READING
from benchd.run.adaptive.learned import Limits
from benchd.run.adaptive.precision import DIFFERENCES_DOF
from benchd.run.adaptive.settling import LevelChange, TimedReading, as_body, per_second_seen
from benchd.run.adaptive.settling_model import binned
from benchd.run.log.records import Body
from benchd.run.procedures.warm_up_stability import WARM_UP_EVERY_S

MINUTES = 16
"""Minutes of a warm-up with a characterisation, the last two before it may end."""
MIN_MINUTES = 3
"""In the first ones the light drifts too fast."""
READING_S = 0.1
"""Short, since the standard deviation needs many readings."""
STILL = 3.0
"""Standard errors by which two halves of a patch may differ and still be the same light."""


class WarmUpPatch(NamedTuple):
    """One patch of a characterisation: its share of the top code, and for how long it is watched."""

    code: float
    seconds: float
    dark: bool = False


PARTS = (
    WarmUpPatch(0.0, 2.0, dark=True),
    WarmUpPatch(0.05, 5.0, dark=True),
    WarmUpPatch(0.35, 4.0),
    WarmUpPatch(1.0, 14.0),
    WarmUpPatch(0.0, 24.0, dark=True),
    WarmUpPatch(0.05, 2.0, dark=True),
    WarmUpPatch(0.0, 3.0, dark=True),
)

REST_S = WARM_UP_EVERY_S - sum(part.seconds for part in PARTS)
"""For about how long the warm-up's own patch is shown after a characterisation, until its next reading."""

Triple = tuple[float, float, float]
_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))

Show = Callable[[Patch], object]
Read = Callable[[float], Reading]
"""One reading of that integration time."""


def is_characterisation(minute: int, limits: WarmUpLimits) -> bool:
    """True when a characterisation follows the reading of that minute."""
    last = int(limits.at_least_min) - 1  # the minute before the earliest end is for what swings: `warm_up`
    return max(MIN_MINUTES, last - MINUTES) <= minute < last


def characterise(
    like: Patch, luminance_cd_m2: float, show: Show, read: Read, limits: Limits, before_it: Sequence[Body] = ()
) -> list[Body]:
    """One characterisation; ``like``: the patch of the warm-up, shown again at its end, which read ``luminance_cd_m2``.

    ``before_it``: the characterisations before, the last of them a minute ago. Nothing when the meter takes no
    integration time.
    """
    last = before_it[-len(PARTS) - 1 :]
    bodies: list[Body] = []
    first = before = luminance_cd_m2
    was_black = False
    for number, part in enumerate(PARTS):
        show(replace(like, kind="field", code=grey(round(part.code * max_code(like.bits))), area_percent=100.0))
        readings, figures = _watched(part.seconds, read, limits)
        if not readings:
            break
        late = readings[len(readings) // 2 :]
        now, scatter = fmean(one.luminance_cd_m2 for one in late), per_second_seen(late)
        change = LevelChange(max(now - before, 0.0), max(before - now, 0.0), part.dark, was_black, part.code == 0.0)
        drift_per_s = (now - float(last[number]["luminance_cd_m2"])) / WARM_UP_EVERY_S if last else 0.0
        bins = binned(
            (one.end_s, one.took_s, one.luminance_cd_m2 - drift_per_s * (one.end_s - one.took_s / 2.0))
            for one in (readings if last else [])
        )
        body: Body = {
            "luminance_cd_m2": float(f"{now:.6g}"),
            "time_s": round(readings[-1].end_s, 4),
            "scatter": _scatter(max(now, limits.floor_cd_m2), scatter, late),
            "settling": as_body(change, bins, scatter),
        }
        if body["scatter"]:
            body |= _of_colours(late, figures[len(readings) // 2 :])
        bodies.append(body)
        before, was_black = now, part.code == 0.0
    show(like)
    if bodies:
        back = LevelChange(max(first - before, 0.0), max(before - first, 0.0))
        bodies.append({"time_s": 0.0, "settling": as_body(back, [], 0.0)})
    return bodies


def _scatter(luminance: float, per_second: float, late: Sequence[TimedReading]) -> list[list[float]]:
    """For the noise model; nothing while the light still moves, which would look like noise.

    Differences of neighbours hardly depend on how the means of the two halves differ, so this test causes no bias.
    """
    halves = late[: len(late) // 2], late[len(late) // 2 :]
    if not all(halves):
        return []
    one, other = (fmean(timed.luminance_cd_m2 for timed in half) for half in halves)
    error = math.sqrt(per_second * sum(1.0 / sum(timed.took_s for timed in half) for half in halves))
    if abs(one - other) > STILL * error:
        return []
    return [[float(f"{value:.6g}") for value in (luminance, per_second, DIFFERENCES_DOF * (len(late) - 1))]]


def _of_colours(late: Sequence[TimedReading], figures: Sequence[Triple | None]) -> Body:
    """Mean X, Y, Z and their covariances x time (XX, YY, ZZ, XY, XZ, YZ), by which analysis weights single readings."""
    seen = [one for one in figures if one is not None]
    if len(seen) < len(figures):
        return {}
    sums = [0.0] * len(_PAIRS)
    for (one, before), (timed, last) in zip(pairwise(reversed(seen)), pairwise(reversed(late)), strict=True):
        moved = [a - b for a, b in zip(one, before, strict=True)]
        scale = 1.0 / timed.took_s + 1.0 / last.took_s
        sums = [total + moved[i] * moved[j] / scale for total, (i, j) in zip(sums, _PAIRS, strict=True)]
    means = [fmean(axis) for axis in zip(*seen, strict=True)]
    return {
        "xyz": [float(f"{mean:.6g}") for mean in means],
        "xyz_per_second": [float(f"{total / (len(seen) - 1):.6g}") for total in sums],
    }


def _watched(seconds: float, read: Read, limits: Limits) -> tuple[list[TimedReading], list[Triple | None]]:
    readings: list[TimedReading] = []
    figures: list[Triple | None] = []
    now_s = 0.0
    while now_s < seconds:
        length_s = max(limits.shortest_s, READING_S if now_s >= FIRST_WATCH_S else 0.0)
        reading = read(length_s)
        reported_s = reading.integration_s
        if reported_s is None or abs(reported_s - length_s) > SAME_READING * length_s + 0.002:
            return [], []
        now_s += max(reported_s, round(reading.elapsed_s, 6))
        readings.append(TimedReading(now_s, reported_s, reading.xyz[1] if reading.xyz else 0.0))
        figures.append(reading.xyz)
    return readings, figures
