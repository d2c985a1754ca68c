"""When a patch has settled, found from the readings themselves, and what is remembered of a panel's settling.

Two ways, and the first teaches the second:

- *watched*: short readings go on for `WATCH_S` at least and until the last three quarters of the time since the patch
  was shown hold no trend. A tail that is seen keeps the watch going, so a slow panel makes its own watch long. What was
  seen is kept as a `Tail`: which share of the step was left at which time.
- *expected*: a later patch is counted from the moment when what was seen of this panel's steps in the same direction
  leaves less than the tolerance of its own step. A tail that watching could not have shown is bounded too: `floor` is
  the share of a step that would have been noticed, and a `Tail` is used only for steps that it speaks for.

Either way the readings that are counted are tested for a trend once more; one that shows is no settled patch, it is
watched, and what was seen then is remembered against the panel. Bound: see `Tail.left`. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

WATCH_S = 2.0
"""Shortest watch of a step that nothing is known about."""
WATCH_MOST_S = 3.0
"""From here on a watch is over as soon as no trend shows, however coarse the readings are."""
VISIBLE = 3.0
"""Standard errors from which on a difference counts as seen (one false alarm in 370)."""
NEGLIGIBLE = 0.25
"""Share of the tolerance below which a part of a change is no step at all."""
SLACK = 1.25
"""Factor on time for steps that differ from the one watched: panels settle differently fast by level."""


class Glance(NamedTuple):
    """One short reading: the end of its light since the patch was shown, how long it took, and its luminance."""

    end_s: float
    took_s: float
    luminance_cd_m2: float

    @property
    def middle_s(self) -> float:
        return self.end_s - self.took_s / 2.0


class Tail(NamedTuple):
    """What was seen of one step: its direction, the share of it left over time, the share that would have been seen.

    ``points``: (seconds since the patch was shown, share of the step left), falling; before the first all is left.
    """

    rising: bool
    relative: float  # size of the step over the luminance it led to
    points: tuple[tuple[float, float], ...]
    floor: float

    def share(self, at_s: float) -> float:
        """Upper estimate of the share of a step that is left at ``at_s``: straight in the logarithm, and beyond the
        last point on at the last slope, which is what exponentials do that were seen."""
        at_s /= SLACK
        before = (0.0, 1.0)
        slope = 0.0
        for point in self.points:
            if point[0] > before[0]:
                slope = math.log(max(point[1], 1e-12) / before[1]) / (point[0] - before[0])
                if at_s <= point[0]:
                    break
                before = (point[0], max(point[1], 1e-12))
        return min(1.0, before[1] * math.exp(slope * (at_s - before[0])))

    def left(self, from_s: float, for_s: float) -> float:
        """Mean share of a step that is left over a window: what the mean of readings in it is wrong by."""
        parts = 8
        return sum(self.share(from_s + for_s * (part + 0.5) / parts) for part in range(parts)) / parts

    def as_body(self) -> dict[str, Any]:
        """For the log."""
        points = [[round(at_s, 4), float(f"{share:.4g}")] for at_s, share in self.points]
        return {"rising": self.rising, "relative": self.relative, "points": points, "floor": self.floor}

    @classmethod
    def from_body(cls, body: dict[str, Any]) -> Tail:
        """From the log."""
        points = tuple((float(at_s), float(share)) for at_s, share in body["points"])
        return cls(body["rising"], body["relative"], points, body["floor"])


class Panel:
    """What is known of how this panel settles."""

    def __init__(self) -> None:
        self._tails: list[tuple[Tail, bool]] = []

    def take(self, tail: Tail, *, surprise: bool) -> None:
        """Remember one; a surprise showed that what was expected was too short, and counts beside the best."""
        self._tails.append((tail, surprise))

    def left(
        self, steps_cd_m2: Sequence[float], luminance_cd_m2: float, from_s: float, for_s: float, tolerance: float
    ) -> float | None:
        """Mean error over a window, relative to the luminance; None when nothing seen speaks for such steps.

        ``steps_cd_m2``: the parts of the change, signed. A change of colour gets brighter in one channel and darker in
        another, and both settle.
        """
        total = 0.0
        for step in steps_cd_m2:
            size = abs(step)
            if size <= NEGLIGIBLE * tolerance * luminance_cd_m2:
                continue
            able = [
                (tail, surprise)
                for tail, surprise in self._tails
                if tail.rising == (step > 0.0)
                and (tail.floor * size <= tolerance * luminance_cd_m2 or size <= 1.2 * tail.relative * luminance_cd_m2)
            ]
            if not able:
                return None
            finest = min((tail for tail, _ in able), key=lambda tail: tail.floor)
            shares = [finest.left(from_s, for_s)] + [tail.left(from_s, for_s) for tail, odd in able if odd]
            total += max(shares) * size / luminance_cd_m2
        return total


def mean_of(glances: Sequence[Glance]) -> float:
    """Mean luminance, weighted by time."""
    total = sum(one.took_s for one in glances)
    return sum(one.luminance_cd_m2 * one.took_s for one in glances) / total


def per_second_seen(glances: Sequence[Glance]) -> float:
    """Variance x time from differences of neighbours, which a slow trend hardly moves (von Neumann et al. 1941)."""
    squares = [
        (second.luminance_cd_m2 - first.luminance_cd_m2) ** 2 / (1.0 / first.took_s + 1.0 / second.took_s)
        for first, second in pairwise(glances)
    ]
    return sum(squares) / len(squares) if squares else 0.0


def is_calm(glances: Sequence[Glance], per_second: float, tolerance_cd_m2: float) -> bool:
    """True when the last three quarters of the time hold no trend, and one above the tolerance would have shown.

    ``per_second``: variance x time of the readings. Compared are the second quarter of the time with the second half,
    and the two halves of that half. An exponential tail whose time constant is a third of the time or less has moved
    by more than it has left; see the test with slow panels for what remains of others.
    """
    now_s = glances[-1].end_s
    if now_s < WATCH_S:
        return False
    late, early = between(glances, now_s / 2.0, now_s), between(glances, now_s / 4.0, now_s / 2.0)
    first, second = between(glances, now_s / 2.0, 0.75 * now_s), between(glances, 0.75 * now_s, now_s)
    if min(len(late), len(early), len(first), len(second)) < 2:
        return False
    for one, other in ((early, late), (first, second)):
        error = math.sqrt(per_second * (1.0 / _time(one) + 1.0 / _time(other)))
        moved = abs(mean_of(one) - mean_of(other))
        if moved > VISIBLE * error and moved > tolerance_cd_m2 / 4.0:
            return False
        if error > tolerance_cd_m2 / 2.0 and now_s < WATCH_MOST_S:
            return False
    return True


def between(glances: Sequence[Glance], first_s: float, last_s: float) -> list[Glance]:
    """Those whose middle lies in a stretch of time."""
    return [one for one in glances if first_s < one.middle_s <= last_s]


def tail_of(glances: Sequence[Glance], before_cd_m2: float, per_second: float) -> Tail | None:
    """What a watch says about the panel: the share left in windows that double, against the last half.

    None when there was no step worth the name.
    """
    now_s = glances[-1].end_s
    late = between(glances, now_s / 2.0, now_s)
    end = mean_of(late)
    size = abs(end - before_cd_m2)
    if end <= 0.0 or size <= 0.0:
        return None
    points: list[tuple[float, float]] = []
    floors: list[float] = []
    early = [one for one in glances if one.middle_s <= now_s / 2.0]
    start, length, ended = 0, 1, False
    while start < len(early):
        window = early[start : start + length]
        error = math.sqrt(per_second * (1.0 / _time(window) + 1.0 / _time(late)))
        moved = abs(mean_of(window) - end)
        share = (moved + 2.0 * error) / size
        middle = sum(one.middle_s for one in window) / len(window)
        floors.append(VISIBLE * error / size)
        if moved > VISIBLE * error:
            # Seen after a window in which it was not: then that one only hid it.
            points = [point for point in points if point[1] > share] + [(middle, share)]
            ended = False
        elif not ended:
            points.append((middle, share))
            ended = True
        start, length = start + length, max(1, start + length)
    falling = [points[0]] if points else []
    for point in points[1:]:
        if point[1] < falling[-1][1]:
            falling.append(point)
    return Tail(end > before_cd_m2, size / end, tuple(falling), min(floors, default=1.0))


def still_moves(glances: Sequence[Glance], per_second: float, tolerance_cd_m2: float) -> bool:
    """True when the first quarter or half of the counted readings differs from the rest by more than it may.

    That is by more than both its scatter and half the tolerance.
    """
    for first in {max(1, len(glances) // 4), len(glances) // 2}:
        early, late = glances[:first], glances[first:]
        error = math.sqrt(per_second * (1.0 / _time(early) + 1.0 / _time(late)))
        if abs(mean_of(early) - mean_of(late)) > max(VISIBLE * error, tolerance_cd_m2 / 2.0):
            return True
    return False


def _time(glances: Sequence[Glance]) -> float:
    return sum(one.took_s for one in glances)
