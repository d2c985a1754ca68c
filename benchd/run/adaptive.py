"""Readings until a precision is reached: how long the next one is, and when a patch has enough.

Stopping is honest because it does not look at the scatter that the result will be judged by. Where the meter's noise is
known near the luminance (`benchd.run.noise`), the total integration time follows from it before the counted readings
are taken; else the first `PILOT` readings fix the number of all of them, and that number stands (two stages, Stein,
Ann. Math. Statist. 16, 1945, 243). In both the factor dof / (dof - 2) makes the square of the uncertainty that is
really reached the asked one in the mean. The integration time is one for all counted readings of a patch, so their
plain mean is the right one. Pure: it is asked for the next reading and told what came.
"""

from __future__ import annotations

import math
from statistics import fmean, variance
from typing import Any, NamedTuple

from benchd.run.noise import Noise, NoiseModel, Scatter, chi_square_quantile
from benchd.run.settling import (
    Glance,
    Panel,
    Tail,
    between,
    is_calm,
    mean_of,
    per_second_seen,
    still_moves,
    tail_of,
)

SHORTEST_S, LONGEST_S = 0.05, 4.0
"""Shortest and longest reading that is asked for; the meter's own limits come before."""
WISHED = 8
"""Counted readings of a patch, where the meter's limits allow: few enough to cost nothing, enough to see scatter."""
LONG_S = 4.0
"""Integration in all from which on twice as many readings are taken: they teach the noise for the patches to come."""
MARGIN = 1.02
"""On their integration time, because the luminance that it follows from was read once."""
LEAST = 4
PILOT = 10
LEAST_LATE_DOF = 10.0
"""Freedom from which on the calm end of a patch's own watch tells its noise; it is not counted, so it is no peeking."""
TOLERATED = 0.5
"""Settling error tolerated, as a share of the repeatability that is asked."""
CLEARLY_NOISIER = 3.09
"""Normal deviate from which on a patch is noisier than the meter (one false alarm in 1000)."""
DIFFERENCES_DOF = 2.0 / 3.0
"""Freedom of a variance from differences of neighbours, a difference (von Neumann et al. 1941, normal scatter)."""
SAME_READING = 0.02
"""A meter whose reading took another time than was asked, by this share, can't be told."""


class Asked(NamedTuple):
    """What a plan asks of a patch."""

    repeatability: float  # relative standard uncertainty of the mean, from repeatability
    at_most_s: float  # on one patch, settling included
    fixed_s: float | None = None  # integration time of every reading, where the plan says it
    dark: bool = False


class Before(NamedTuple):
    """What was there before the patch.

    ``still``: the same patch was on the screen; ``moved``: the meter was moved; ``parts``: what gets brighter and what
    gets darker by the codes, as shares of white. A reading alone does not tell the step: on a slow panel it may not
    have begun, and a change of colour may leave the luminance as it was.
    """

    luminance_cd_m2: float | None
    still: bool = False
    moved: bool = False
    parts: tuple[float, float] = (0.0, 0.0)


class Limits(NamedTuple):
    """What the meter can do: shortest and longest integration, and the lowest luminance of its range."""

    shortest_s: float = SHORTEST_S
    longest_s: float = LONGEST_S
    floor_cd_m2: float = 0.0


class Learned:
    """What this log has taught so far: the meter's noise, the panel's settling, the luminances of the steps."""

    def __init__(self, limits: Limits | None = None, stated: NoiseModel | None = None, stated_dof: float = 0.0) -> None:
        self.limits = limits or Limits()
        self.noise = Noise(stated, stated_dof)
        self.panel = Panel()
        self._luminance: dict[str, float] = {}
        self.brightest_cd_m2 = 0.0
        self._taken = 0

    def take(self, entries: list[tuple[str, dict[str, Any]]]) -> None:
        """What the log holds of adaptive steps, in order; those that were taken before are passed over."""
        for step, body in entries[self._taken :]:
            if body.get("luminance_cd_m2") is not None:
                self._luminance[step] = float(body["luminance_cd_m2"])
                self.brightest_cd_m2 = max(self.brightest_cd_m2, self._luminance[step])
            if "scatter" in body:
                for seen in body["scatter"]:
                    self.noise.take(Scatter(*seen))
            if body.get("tail"):
                self.panel.take(Tail.from_body(body["tail"]), surprise=bool(body.get("surprise")))
        self._taken = len(entries)

    def luminance_of(self, step: str) -> float | None:
        """What a step read, in cd/m2, where it was read in this way."""
        return self._luminance.get(step)

    def begin(self, asked: Asked, before: Before) -> PatchReading:
        """A patch is on the screen."""
        return PatchReading(asked, before, self)


class PatchReading:
    """The readings of one patch: `next_s`, then `take` with what came, until `next_s` says None; then `reached`."""

    def __init__(self, asked: Asked, before: Before, learned: Learned) -> None:
        self._asked, self._before, self._learned = asked, before, learned
        self._limits = learned.limits
        self._all: list[Glance] = []
        self._from = 0  # the first that counts
        self._counting = False
        self._length_s = self._limits.shortest_s if asked.fixed_s is None else asked.fixed_s
        self._fixed_number: int | None = None  # of counted readings, where the first of them have fixed it
        self._variance: tuple[float, float] | None = None  # variance x time that the stop rests on, and its freedom
        self._tail: Tail | None = None
        self._watched = self._surprise = self._over = self._unsettled = False
        self._left = self._next_look_s = 0.0
        self._late: Scatter | None = None  # of the calm end of a watch
        self._why = ""
        self.untold = False
        """True when the meter can't be told an integration time: the plan's count holds then."""
        if before.still and before.luminance_cd_m2 is not None:
            self._begin_counting(before.luminance_cd_m2)

    def next_s(self) -> float | None:
        """Integration time of the next reading; None when there is nothing more to read."""
        return None if self._over else self._length_s

    def take(self, luminance_cd_m2: float | None, took_s: float, told_s: float | None, *, over_range: bool) -> bool:
        """What came: luminance (None: no figure), the time it took, and the integration that the meter tells.

        True when the patch is found settled with this one: the readings until here do not count.
        """
        if told_s is None or abs(told_s - self._length_s) > SAME_READING * self._length_s + 0.002:
            self.untold = self._over = True
            return False
        self._all.append(Glance(self._now_s + max(took_s, told_s), told_s, luminance_cd_m2 or 0.0))
        if over_range:
            self._over, self._why = True, "over the meter's range"
            return False
        begun = self._from
        if self._counting:
            self._count()
        else:
            self._settle()
        if not self._over and self._now_s + self._length_s > self._asked.at_most_s:
            self._over, self._why = True, self._why or f"after {self._asked.at_most_s:g} s"
        return self._counting and self._from > begun

    # settling

    @property
    def _now_s(self) -> float:
        return self._all[-1].end_s if self._all else 0.0

    def _settle(self) -> None:
        now = self._all[-1].luminance_cd_m2
        tolerance = TOLERATED * self._asked.repeatability
        if not self._surprise:
            for_s = self._needed_s(now) or LEAST * self._length_s
            left = self._expected_left(now, for_s, tolerance)
            # The first counted reading, too, must be settled to within its own scatter, or that would look larger.
            first = self._expected_left(now, max(for_s / WISHED, self._length_s), tolerance)
            if left is not None and first is not None and left <= tolerance and first <= 2.0 * tolerance:
                self._left = left
                self._begin_counting(now)
                return
        ending = self._now_s + LEAST * self._length_s > self._asked.at_most_s
        if self._now_s < self._next_look_s and not ending:
            return
        self._next_look_s = 1.05 * self._now_s
        per_second = self._per_second(now) or per_second_seen(self._all[len(self._all) // 2 :])
        if is_calm(self._all, per_second, tolerance * self._scale(now)):
            before = self._before.luminance_cd_m2
            if before is not None and not self._before.moved:
                self._tail = tail_of(self._all, before, per_second)
            self._watched = True
            late = between(self._all, self._now_s / 2.0, self._now_s)
            self._late = Scatter(self._scale(mean_of(late)), per_second_seen(late), DIFFERENCES_DOF * (len(late) - 1))
            self._begin_counting(now)
        elif ending:
            self._unsettled, self._why = True, f"it had not settled after {self._now_s:.0f} s"
            self._begin_counting(now)

    def _expected_left(self, now: float, for_s: float, tolerance: float) -> float | None:
        """What is left of the step from here on, by what is known of the panel; None where nothing is."""
        before, brightest = self._before.luminance_cd_m2, max(self._learned.brightest_cd_m2, now)
        if self._before.moved:
            # Over another place the last luminance says little: take the largest step there can be.
            parts: tuple[float, ...] = (brightest, -brightest)
        elif before is None:
            return None
        else:
            up, down = (brightest * part for part in self._before.parts)
            if self._asked.dark and down > up:
                # A zone that dims behind a dark patch does so whatever little was shown before: as from white.
                down = brightest
            parts = (max(up, now - before), -max(down, before - now))
        return self._learned.panel.left(parts, self._scale(now), self._now_s, for_s, tolerance)

    # counting

    def _scale(self, luminance: float) -> float:
        """What the precision is relative to: the luminance, or the lowest of the meter's range where it is below."""
        return max(luminance, self._limits.floor_cd_m2, 1e-9)

    def _known(self, luminance: float) -> tuple[float, float] | None:
        """Variance x time at a luminance and its freedom, from readings that are not counted here; None: not known."""
        per_second = self._learned.noise.per_second(self._scale(luminance))
        if per_second is not None:
            return per_second, self._learned.noise.dof_at(self._scale(luminance))
        if self._late is not None and self._late.dof >= LEAST_LATE_DOF:
            return self._late.per_second, self._late.dof
        return None

    def _per_second(self, luminance: float) -> float | None:
        known = self._known(luminance)
        return None if known is None else known[0]

    def _needed_s(self, luminance: float) -> float | None:
        """Integration time in all that reaches the precision; None where the noise is not known."""
        known = self._known(luminance)
        return None if known is None else needed_s(*known, self._asked.repeatability * self._scale(luminance))

    def _begin_counting(self, luminance: float) -> None:
        self._counting, self._from = True, len(self._all)
        if self._asked.fixed_s is not None or self._unsettled:
            return
        need_s = self._needed_s(luminance)
        length_s = 4.0 * SHORTEST_S if self._asked.dark else SHORTEST_S
        if need_s is not None:
            wished = WISHED if need_s < LONG_S else 2 * WISHED
            wished = min(wished, max(LEAST, int(MARGIN * need_s / self._limits.shortest_s)))
            left_s = max(self._asked.at_most_s - self._now_s, self._limits.shortest_s)
            length_s = math.ceil(1000.0 * min(MARGIN * need_s, left_s) / wished) / 1000.0
        self._length_s = min(max(length_s, self._limits.shortest_s), self._limits.longest_s)

    def _count(self) -> None:
        counted = self._all[self._from :]
        n = len(counted)
        if n < LEAST:
            return
        mean = fmean(one.luminance_cd_m2 for one in counted)
        if self._fixed_number is None and not self._enough(counted, mean):
            return
        if self._fixed_number is not None and n < self._fixed_number:
            return
        known = self._known(mean)
        # Differences of neighbours, where nothing is known: a trend would hide in the variance that it makes itself.
        per_second = known[0] if known else per_second_seen(counted)
        allowed = TOLERATED * self._asked.repeatability * self._scale(mean)
        if not self._unsettled and still_moves(counted, per_second, allowed):
            if self._now_s < self._asked.at_most_s / 2.0 and not self._surprise:
                self._watch_again()
                return
            self._why = "its readings still drift"
        elif self._fixed_number is None and self._clearly_noisier(counted):
            self._fix_number(counted, mean)
            if n < (self._fixed_number or 0):
                return
        self._over = True

    def _watch_again(self) -> None:
        """What was expected of the panel does not hold here: watch it, and remember."""
        self._surprise, self._counting, self._next_look_s = True, False, 0.0
        self._fixed_number, self._variance, self._length_s = None, None, self._all[0].took_s

    def _clearly_noisier(self, counted: list[Glance]) -> bool:
        assert self._variance is not None
        n = len(counted)
        seen = variance(one.luminance_cd_m2 for one in counted) * self._length_s
        return seen * (n - 1) > self._variance[0] * chi_square_quantile(CLEARLY_NOISIER, n - 1)

    def _enough(self, counted: list[Glance], mean: float) -> bool:
        """True when the counted readings suffice by the meter's known noise, or when their number is fixed now."""
        n = len(counted)
        known = self._known(mean)
        if known is None:
            if n >= PILOT:
                self._fix_number(counted, mean)
            return n >= PILOT
        self._variance = known
        need_s = needed_s(*known, self._asked.repeatability * self._scale(mean))
        return n * self._length_s >= need_s * (1.0 - 1e-6)

    def _fix_number(self, counted: list[Glance], mean: float) -> None:
        """The counted readings so far say how many there will be, whatever the later ones scatter."""
        n = len(counted)
        per_second = variance(one.luminance_cd_m2 for one in counted) * self._length_s
        need_s = needed_s(per_second, n - 1.0, self._asked.repeatability * self._scale(mean))
        self._variance = (per_second, n - 1.0)
        self._fixed_number = max(n, math.ceil(need_s / self._length_s))

    # what came of it

    def settled(self) -> dict[str, Any]:
        """For the log's ``settled``: when, and what is left at most of the step, relative, by what is known."""
        how = "given up" if self._unsettled else "watched" if self._watched else "expected"
        body: dict[str, Any] = {"after_s": round(self._now_s, 4), "readings": self._from, "how": how}
        if how == "expected":
            body["left"] = float(f"{self._left:.3g}")
        return body

    def reached(self) -> dict[str, Any]:
        """For the log's ``done``."""
        counted = self._all[self._from :]
        values = [one.luminance_cd_m2 for one in counted]
        mean, n = fmean(values), len(values)
        own = variance(values) * counted[0].took_s if n > 1 else None
        per_second = self._variance[0] if self._variance else own
        reached = None
        if per_second is not None:
            reached = math.sqrt(per_second / sum(one.took_s for one in counted)) / self._scale(mean)
        body: dict[str, Any] = {
            "asked": self._asked.repeatability,
            "reached": None if reached is None else float(f"{reached:.4g}"),
            "met": not self._why,
            "luminance_cd_m2": float(f"{mean:.6g}"),
            "time_s": round(self._now_s, 4),
        }
        if self._why:
            body["why"] = self._why
        if own is not None and not self._unsettled and not self._why.startswith(("over", "its")):
            both = [Scatter(self._scale(mean), own, n - 1.0)] + ([self._late] if self._late else [])
            body["scatter"] = [[float(f"{value:.6g}") for value in one] for one in both]
        if self._tail is not None:
            body |= {"tail": self._tail.as_body(), "surprise": self._surprise}
        return body


def needed_s(per_second: float, dof: float, uncertainty_cd_m2: float) -> float:
    """Integration time in all that brings the mean's standard uncertainty to ``uncertainty_cd_m2`` in the mean."""
    inflation = dof / (dof - 2.0) if dof > 2.0 else 3.0
    return inflation * per_second / uncertainty_cd_m2**2


def limits_of(low_s: float | None, high_s: float | None, floor_cd_m2: float | None) -> Limits:
    """Our limits within those of a meter that tells some."""
    shortest = SHORTEST_S if low_s is None else max(SHORTEST_S, low_s)
    longest = LONGEST_S if high_s is None else min(LONGEST_S, high_s)
    return Limits(shortest, max(shortest, longest), floor_cd_m2 or 0.0)
