"""Readings until a precision is reached: how long the next one is, and when a patch has enough.

Stopping is unbiased because it does not depend on the spread that the result is judged by. Where the meter's noise is
known near the luminance (`learned`), the total integration time follows from it before the counted readings
are taken; else the first `PILOT` readings fix the number of all of them, and that number stands (two stages, Stein,
Ann. Math. Statist. 16, 1945, 243). In both the factor dof / (dof - 2) makes the square of the uncertainty that is
really reached the requested one in the mean. The integration time is one for all counted readings of a patch, so their
plain mean is the right one. Pure: it gives the next reading and takes its result.
"""

from __future__ import annotations

import math
from statistics import fmean, variance
from typing import Any

from benchd.distributions import chi_square_quantile
from benchd.run.adaptive.learned import SHORTEST_S, Learned
from benchd.run.adaptive.precision import (
    DIFFERENCES_DOF,
    PrecisionRequest,
    PreviousPatch,
    needed_s,
    repeatability_reached,
    scatter_seen,
    settling_left,
)
from benchd.run.adaptive.settling import LevelChange, OwnReadings, TimedReading, as_body, per_second_seen
from benchd.run.adaptive.settling_model import Bin, binned

WISHED = 8
"""Counted readings of a patch, where the meter's limits allow: few enough to cost little, enough for a spread."""
LONG_S = 4.0
"""Integration in all from which on twice as many readings are taken: from them the noise of later patches is known."""
MARGIN = 1.02
"""On their integration time, because the luminance that it follows from was read once."""
MIN_READINGS, WELL_KNOWN_DOF = 4, 100.0
"""One reading may do where the meter's repeatability is known to 7 % from this log's other readings."""
AGREES = 4.0
"""Standard errors within which one reading must agree with the one before it, beyond what may have settled between."""
ALIKE = 0.25
"""Share of the light that may have settled between the two at most; else two readings are counted."""
PILOT = 10
TOLERATED = 0.5
"""Settling error tolerated by what was seen, as a share of the requested repeatability."""
HIDDEN = 1.0
"""The same for what could be hidden from what was seen."""
FIRST_WATCH_S = 0.4
"""A patch that is watched counts from here at the earliest; if settling shows later, from later."""
WATCH_READING_S = 0.25
CHARACTERISE_MAX_S = 20.0
LOOKS = 1.08
"""A watch is judged anew whenever its time has grown by this factor."""
CLEARLY_NOISIER = 0.9999
"""How surely a patch is noisier than the meter: one false alarm in 10 000."""
SAME_READING = 0.02
"""A meter whose reading took another time than was requested, by this share, can't be set."""


class PatchReading:
    """The readings of one patch: `next_s`, then `take` with the result, until `next_s` is None; then `reached`."""

    def __init__(self, asked: PrecisionRequest, before: PreviousPatch, learned: Learned) -> None:
        self._asked, self._before, self._learned = asked, before, learned
        self._limits = learned.limits
        self._all: list[TimedReading] = []
        self._from = 0  # the first that counts
        self._counting = False
        self._length_s = self._shortest_s = self._limits.shortest_s if asked.fixed_s is None else asked.fixed_s
        self._fixed_number: int | None = None  # of counted readings, where the first of them have fixed it
        self._variance: tuple[float, float] | None = None  # variance x time that the stop rests on, and its freedom
        self._watched = self._over = False
        self._surprises = 0
        self._left = self._hidden = self._next_look_s = 0.0
        self._why = ""
        self.pause_s = 0.0
        """What passes without a reading before the next: settling whose end is known and nearer than a reading."""
        self.not_settable = False
        """True when the meter takes no integration time: the plan's count holds then."""
        self._allowed = TOLERATED * asked.repeatability, HIDDEN * asked.repeatability  # left as seen, and hidden
        self.unsettled = False
        """True when it counts because its time is over, not because it has settled."""
        if before.still and before.luminance_cd_m2 is not None:
            now = before.luminance_cd_m2  # what the patches before have left may not be over yet
            if (rest_s := self._expected_rest_s(now, self._scale(now), self._counting_s(now))) is not None:
                self._begin_counting(now, rest_s)

    def next_s(self) -> float | None:
        """Integration time of the next reading; None when there is nothing more to read."""
        return None if self._over else self._length_s

    def take(self, luminance_cd_m2: float | None, took_s: float, reported_s: float | None, *, over_range: bool) -> bool:
        """A result: luminance (None: no figure), the time it took, and the integration time that the meter reports.

        True when the patch is found settled with this one: the readings until here do not count.
        """
        if reported_s is None or abs(reported_s - self._length_s) > SAME_READING * self._length_s + 0.002:
            self.not_settable = self._over = True
            return False
        self._all.append(
            TimedReading(self._now_s + self.pause_s + max(took_s, reported_s), reported_s, luminance_cd_m2 or 0.0)
        )
        self.pause_s = 0.0
        if over_range:
            self._over, self._why = True, "over the meter's range"
            return False
        begun = self._from
        if self._counting:
            self._count()
        else:
            self._settle()
        counts = not self._counting or self._from < len(self._all)  # one at least, however late it is
        if not self._over and counts and self._now_s + self._length_s > self._asked.at_most_s:
            self._over, self._why = True, self._why or f"after {self._asked.at_most_s:g} s"
        return self._counting and self._from > begun

    # settling

    @property
    def _now_s(self) -> float:
        return self._all[-1].end_s if self._all else 0.0

    def _settle(self) -> None:
        ending = self._now_s + MIN_READINGS * self._length_s > self._asked.at_most_s
        if self._now_s < self._next_look_s and not ending:
            return
        self._next_look_s = LOOKS * self._now_s
        now = self._level()
        scale, for_s = self._scale(now), self._counting_s(now)
        rest_s = None if self._surprises else self._expected_rest_s(now, scale, for_s)
        if rest_s is not None and rest_s < self._shortest_s:
            self._begin_counting(now, max(rest_s, 0.0))
        elif ending:
            self.unsettled, self._why = True, f"it had not settled after {self._now_s:.0f} s"
            self._begin_counting(now)
        elif rest_s is not None:
            self._wait(rest_s)
        elif self._now_s >= FIRST_WATCH_S:
            self._wait(WATCH_READING_S)
            if self._own().left(scale, self._now_s, self._now_s + for_s) <= self._allowed[0]:
                self._watched = True
                self._begin_counting(now)

    def _wait(self, seconds: float) -> None:
        if self._asked.fixed_s is None:
            seconds = min(max(self._limits.shortest_s, min(seconds, WATCH_READING_S)), self._limits.longest_s)
            self._length_s = math.ceil(1000.0 * seconds) / 1000.0
            self._next_look_s = 0.0 if seconds < WATCH_READING_S else self._next_look_s

    def _expected_rest_s(self, now: float, scale: float, for_s: float) -> float | None:
        """How much longer by what is known of the panel; None where that does not suffice."""
        if (change := self._changed(now)) is None:
            return None
        outlook = self._learned.panel.outlook(change)
        tolerance, hidden = self._allowed
        at_s = outlook.seconds_until(scale, self._now_s, for_s, tolerance, hidden)
        # The first counted reading, too, must be settled to within its own noise, or that would look larger.
        first_s = outlook.seconds_until(scale, self._now_s, for_s / WISHED, 2.0 * tolerance, math.inf)
        if at_s is None or first_s is None:
            return None
        from_s = max(at_s, first_s)
        self._left, self._hidden = outlook.left(scale, from_s, from_s + for_s)
        return from_s - self._now_s

    def _level(self) -> float:
        """Luminance by the last half of the time, at most the last eight readings."""
        return fmean(one.luminance_cd_m2 for one in self._all[-max(1, min(8, len(self._all) // 2)) :])

    def _changed(self, now: float) -> LevelChange | None:
        return self._before.change(now, max(self._learned.brightest_cd_m2, now), dark=self._asked.dark)

    def _own(self) -> OwnReadings:
        now = self._level()
        per_second = self._per_second(now) or per_second_seen(self._all[len(self._all) // 2 :])
        return OwnReadings(self._learned.panel, self._changed(now), self._bins(), per_second)

    def _bins(self) -> list[Bin]:
        return binned((one.end_s, one.took_s, one.luminance_cd_m2) for one in self._all)

    def _settled_by_own(self, own: OwnReadings, scale: float, from_s: float) -> bool:
        """True when nothing more can be left over the counted readings, by theirs alone or with what is known."""
        tolerance, allowed = self._allowed
        window = (scale, from_s, self._now_s)
        if own.characterises and self._now_s < CHARACTERISE_MAX_S:
            # The first of its kind: watched until it holds for others, too, that will be counted at once.
            early = own.joint(scale, 0.0, self._now_s - from_s)
            if early is not None and early[1] > allowed:
                return False
        left, hidden = own.left(*window), own.hidden(*window)
        if (joint := own.joint(*window)) is not None:
            left, hidden = max(left, joint[0]), min(hidden, joint[1])
        elif (change := self._changed(self._level())) is not None:
            known = self._learned.panel.outlook(change).left(*window)
            left, hidden = max(left, known[0]), min(hidden, known[1])
        self._left, self._hidden = left, hidden
        return left <= tolerance and hidden <= allowed

    # counting

    def _scale(self, luminance: float) -> float:
        """What the precision is relative to: the luminance, or the lowest of the meter's range where it is below."""
        return max(luminance, self._limits.floor_cd_m2, 1e-9)

    def _known(self, luminance: float) -> tuple[float, float] | None:
        """Variance x time at a luminance and its freedom, from readings that are not counted here; None: not known."""
        noise, scale = self._learned.noise, self._scale(luminance)
        per_second = noise.per_second(scale)
        return None if per_second is None else (per_second, noise.dof_at(scale))

    def _per_second(self, luminance: float) -> float | None:
        known = self._known(luminance)
        return None if known is None else known[0]

    def _needed_s(self, luminance: float) -> float | None:
        """Integration time in all that reaches the precision; None where the noise is not known."""
        known = self._known(luminance)
        return None if known is None else needed_s(*known, self._asked.repeatability * self._scale(luminance))

    def _counting_s(self, luminance: float) -> float:
        """For how long will be counted."""
        if (need_s := self._needed_s(luminance)) is None:
            return MIN_READINGS * self._length_s
        return max(need_s, self._least(luminance) * self._limits.shortest_s)

    def _least(self, luminance: float) -> int:
        read_dof = self._learned.noise.read_dof_at(self._scale(luminance))
        if self._watched or self.unsettled or read_dof < WELL_KNOWN_DOF:
            return MIN_READINGS
        return 1 if self._agreement_cd_m2(luminance) is not None else 2

    def _agreement_cd_m2(self, luminance: float) -> float | None:
        """How far the first counted reading may lie from the one before it; None where that would show too little."""
        change = self._changed(luminance)
        at = self._from if self._counting else len(self._all)
        if change is None or at < 1:
            return None
        last, scale = self._all[at - 1], self._scale(luminance)
        settles = scale * sum(self._learned.panel.outlook(change).left(scale, last.end_s - last.took_s, last.end_s))
        return settles if settles <= ALIKE * scale else None

    def _disagrees(self, counted: list[TimedReading]) -> bool:
        """True when the one counted reading can't be the same light as the one before it."""
        assert self._variance is not None
        one, last = counted[0], self._all[self._from - 1]
        allowed = self._agreement_cd_m2(one.luminance_cd_m2)
        scatter = math.sqrt(self._variance[0] * (1.0 / one.took_s + 1.0 / last.took_s))
        away = abs(one.luminance_cd_m2 - last.luminance_cd_m2)
        return allowed is None or away > allowed + AGREES * scatter

    def _begin_counting(self, luminance: float, after_s: float = 0.0) -> None:
        self._counting, self._from, self.pause_s = True, len(self._all), after_s
        fits_s = math.floor(1000.0 * (self._asked.at_most_s - self._now_s - after_s)) / 1000.0
        if self._asked.fixed_s is not None:
            return
        if self.unsettled:
            self._length_s = max(min(self._length_s, fits_s), self._limits.shortest_s)
            return
        need_s = self._needed_s(luminance)
        length_s = 4.0 * SHORTEST_S if self._asked.dark else SHORTEST_S
        if need_s is not None:
            wished = WISHED if need_s < LONG_S else 2 * WISHED
            wished = min(wished, max(self._least(luminance), int(MARGIN * need_s / self._limits.shortest_s)))
            left_s = max(self._asked.at_most_s - self._now_s - after_s, self._limits.shortest_s)
            # Not one millisecond too long for the last one to fit in the cap.
            whole = math.ceil if MARGIN * need_s < left_s else math.floor
            length_s = whole(1000.0 * min(MARGIN * need_s, left_s) / wished) / 1000.0
        if self._watched:
            length_s = min(max(length_s, WATCH_READING_S), 2.0 * WATCH_READING_S)
        self._length_s = min(max(min(length_s, fits_s), self._limits.shortest_s), self._limits.longest_s)

    def _count(self) -> None:
        counted = self._all[self._from :]
        n, own = len(counted), None
        if n < self._least(self._level()):
            return
        ending = self._now_s + self._length_s > self._asked.at_most_s
        if self._watched and not self.unsettled:
            if self._now_s < self._next_look_s and not ending:
                return
            self._next_look_s, own = LOOKS * self._now_s, self._own()
            if not ending and self._moves(own):
                return
        mean = fmean(one.luminance_cd_m2 for one in counted)
        if self._fixed_number is None and not self._enough(counted, mean):
            return
        if self._fixed_number is not None and n < self._fixed_number:
            return
        if not self.unsettled and not self._is_proved(own or self._own(), ending=ending):
            return
        if n == 1 and self._disagrees(counted):
            return
        if self._fixed_number is None and n > 1 and self._clearly_noisier(counted):
            self._fix_number(counted, mean)
            if n < (self._fixed_number or 0):
                return
        self._over = True

    def _moves(self, own: OwnReadings) -> bool:
        """True when the counted readings hold more of a settling error than they may; then others are to be counted."""
        if not self._contradicts(own):
            return False
        self._surprises += 1
        self._watched, self._counting = True, False
        self._fixed_number, self._variance = None, None
        return True

    def _contradicts(self, own: OwnReadings) -> bool:
        scale = self._scale(self._level())
        if self._watched:
            return own.left(scale, self._counted_from_s, self._now_s) > self._allowed[0]
        # Expectations are held against the counted readings alone: before them it may move as it likes.
        counted = self._all[self._from :]
        per_second = self._per_second(self._level()) or per_second_seen(counted)
        bins = [Bin(one.end_s - one.took_s, one.end_s, one.took_s, one.luminance_cd_m2) for one in counted]
        alone = OwnReadings(self._learned.panel, None, bins, per_second)
        return alone.shown(scale, self._counted_from_s, self._now_s) > self._allowed[0]

    @property
    def _counted_from_s(self) -> float:
        return self._all[self._from].end_s - self._all[self._from].took_s

    def _is_proved(self, own: OwnReadings, *, ending: bool) -> bool:
        """True when the counted readings hold no settling error; else more are read, or others counted."""
        moves = self._contradicts(own)
        if not moves and (
            not self._watched or self._settled_by_own(own, self._scale(self._level()), self._counted_from_s)
        ):
            return True
        if ending:
            what = "it had not settled" if moves else "a slow settling of it could not be ruled out"
            self.unsettled, self._why = True, f"{what} after {self._now_s:.0f} s"
            return True
        self._moves(own)
        return False

    def _clearly_noisier(self, counted: list[TimedReading]) -> bool:
        assert self._variance is not None
        n = len(counted)
        seen = variance(one.luminance_cd_m2 for one in counted) * self._length_s
        return seen * (n - 1) > self._variance[0] * chi_square_quantile(CLEARLY_NOISIER, n - 1)

    def _enough(self, counted: list[TimedReading], mean: float) -> bool:
        """True when the counted readings suffice by the meter's known noise, or when their number is fixed now."""
        n = len(counted)
        if (known := self._known(mean)) is None:
            if n >= PILOT:
                self._fix_number(counted, mean)
            return n >= PILOT
        self._variance = known
        need_s = needed_s(*known, self._asked.repeatability * self._scale(mean))
        return n * self._length_s >= need_s * (1.0 - 1e-6)

    def _fix_number(self, counted: list[TimedReading], mean: float) -> None:
        """The counted readings so far decide how many there will be, whatever the later ones are."""
        n = len(counted)
        per_second, dof = variance(one.luminance_cd_m2 for one in counted) * self._length_s, n - 1.0
        if self._watched:  # what may be left of the settling is no noise
            per_second, dof = per_second_seen(counted), DIFFERENCES_DOF * (n - 1.0)
        need_s = needed_s(per_second, dof, self._asked.repeatability * self._scale(mean))
        self._variance = (per_second, dof)
        self._fixed_number = max(n, math.ceil(need_s / self._length_s))

    # what came of it

    def settled(self) -> dict[str, Any]:
        """For the log's ``settled``: when, and what is left at most of the step, relative, by what is known."""
        how = "given up" if self.unsettled else "watched" if self._watched else "expected"
        return {"after_s": round(self._now_s + self.pause_s, 4), "readings": self._from, "how": how}

    def reached(self) -> dict[str, Any]:
        """For the log's ``done``."""
        counted, floor = self._all[self._from :], max(self._limits.floor_cd_m2, 1e-9)
        per_second = self._variance[0] if self._variance else None
        body = repeatability_reached(counted, per_second, self._asked.repeatability, floor)
        body |= {"met": not self._why, "time_s": round(self._now_s, 4), "settled": not self.unsettled}
        if self._why:
            body["why"] = self._why
        if not self.unsettled and not self._why.startswith("over"):
            scatter = scatter_seen(counted, floor, watched=self._watched)
            body |= {"scatter": scatter} if scatter else {}
        mean = float(body["luminance_cd_m2"])
        change = self._changed(mean)
        if change is not None and not self._why.startswith("over"):
            per_second = self._per_second(mean) or per_second_seen(self._all[len(self._all) // 2 :])
            body["settling"] = as_body(change, self._bins(), per_second)
        scale = self._scale(mean)
        left, hidden = self._given_up(scale, change) if self.unsettled else (self._left, self._hidden)
        side = 0.0 if change is None else self._learned.panel.side(change)
        return body | settling_left(left, hidden, side, scale)

    def _given_up(self, scale: float, change: LevelChange | None) -> tuple[float, float]:
        """What is left, seen and hidden, in what was counted because its time was over: by its own readings.

        What they show is left for sure, so it may be twice as much; no more is hidden than the patch changed.
        """
        own, window = self._own(), (scale, self._counted_from_s, self._now_s)
        most = math.inf if change is None else (change.up + change.down) / scale
        return 2.0 * own.left(*window), min(own.hidden(*window), most)
