"""Panels as formulas, and an adaptive run over them without screen, meter or log: thousands of patches a second."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from statistics import fmean, variance

from benchd.run.adaptive.adaptive import PatchReading
from benchd.run.adaptive.learned import Learned, Limits, NoiseModel
from benchd.run.adaptive.precision import PrecisionRequest, PreviousPatch

FINE = NoiseModel.stated(5e-4, 2e-3, 1e-3, 0.2)
DARK_CD_M2 = 0.6  # codes up to 5 % of these panels
BLACK_CD_M2 = 0.2
COARSE = NoiseModel.stated(2.5e-3, 1e-2, 5e-3, 0.2)


@dataclass(frozen=True)
class Panel:
    """Light follows each step with a fast and a slow exponential; where black is shown, a zone dims behind it."""

    rise_tau_s: float = 0.012
    fall_tau_s: float = 0.030
    slow_share: float = 0.0
    slow_tau_s: float = 1.0
    dimming: float = 0.0  # part of black's light that goes away with dimming_tau_s
    dimming_tau_s: float = 1.0


class Light:
    """The light of a panel, which follows one level after the other and forgets nothing in between."""

    def __init__(self, panel: Panel, level: float) -> None:
        self._panel, self._target = panel, level
        self._fast = self._slow = level
        self._zone = self._zone_target = self._zone_of(level)

    def _zone_of(self, level: float) -> float:
        """Light of a zone that is lit beside what it has where it dims behind black."""
        lit = self._panel.dimming / (1.0 - self._panel.dimming) * BLACK_CD_M2
        return 0.0 if level <= BLACK_CD_M2 else lit

    def show(self, level: float) -> None:
        """Another level from now on."""
        self._target, self._zone_target = level, self._zone_of(level)

    @property
    def end(self) -> float:
        """What it comes to."""
        return self._target + self._zone_target

    def mean(self, seconds: float) -> float:
        """Mean light over the next seconds, which pass."""
        panel = self._panel
        tau = panel.rise_tau_s if self._target > self._fast else panel.fall_tau_s
        fast, self._fast = _follow(self._fast, self._target, tau, seconds)
        slow, self._slow = _follow(self._slow, self._target, panel.slow_tau_s, seconds)
        zone, self._zone = _follow(self._zone, self._zone_target, panel.dimming_tau_s, seconds)
        return (1.0 - panel.slow_share) * fast + panel.slow_share * slow + zone


def _follow(now: float, target: float, tau_s: float, seconds: float) -> tuple[float, float]:
    """Mean over the seconds, and where it is after them."""
    fade = math.exp(-seconds / tau_s)
    return target + (now - target) * tau_s * (1.0 - fade) / seconds, target + (now - target) * fade


@dataclass(frozen=True)
class Read:
    """One patch: its true light, the mean and scatter of the counted readings, and what settling left in the mean."""

    truth: float
    mean: float
    deviation: float
    n: int
    settling_error: float
    counted_s: float
    took_s: float
    how: str
    met: bool
    settling_u_cd_m2: float


def adaptive_run(
    panel: Panel,
    levels: Sequence[float],
    repeatability: float,
    noise: NoiseModel,
    random: Random,
    *,
    learned: Learned | None = None,
    at_most_s: float = 60.0,
    more: Callable[[float], float] = lambda since_s: 0.0,
) -> list[Read]:
    """All levels one after the other; the first is what is on the screen before. ``more``: light that is added."""
    learned = learned or Learned(Limits())
    entries: list[tuple[str, dict[str, object]]] = [("0", {"luminance_cd_m2": levels[0]})]
    light_now = Light(panel, levels[0])
    found = []
    for number, (before, after) in enumerate(itertools.pairwise(levels), start=1):
        learned.take(entries)
        change = (after - before) / max(levels)
        parts = (max(0.0, change), max(0.0, -change))
        patch = PatchReading(
            PrecisionRequest(repeatability, at_most_s, dark=after <= DARK_CD_M2),
            PreviousPatch(
                learned.luminance_of(str(number - 1)),
                parts=parts,
                from_black=before <= BLACK_CD_M2,
                to_black=after <= BLACK_CD_M2,
            ),
            learned,
        )
        light_now.show(after)
        values: list[tuple[float, float]] = []
        now_s, how = 0.0, ""
        counted_from_s = 0.0
        while (length_s := patch.next_s()) is not None:
            if patch.pause_s > 0.0:
                now_s += patch.pause_s
                light_now.mean(patch.pause_s)
            light = light_now.mean(length_s) + more(now_s)
            value = light + math.sqrt(noise.per_second(light) / length_s) * random.gauss(0, 1)
            now_s += length_s
            values.append((value, light))
            if patch.take(value, length_s, length_s, over_range=False):
                values, how, counted_from_s = [], str(patch.settled()["how"]), now_s
        body = patch.reached()
        entries.append((str(number), body))
        read, light_seen = [value for value, _ in values], fmean(light for _, light in values)
        found.append(
            Read(
                light_now.end,
                fmean(read),
                math.sqrt(variance(read)) if len(read) > 1 else math.nan,
                len(read),
                light_seen / light_now.end - 1.0,
                now_s - counted_from_s,
                now_s,
                how,
                bool(body["met"]),
                float(body["settling_u_cd_m2"]),
            )
        )
    return found
