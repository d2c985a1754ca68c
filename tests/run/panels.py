"""Panels as formulas, and an adaptive run over them without screen, meter or log: thousands of patches a second."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from statistics import fmean, variance

from benchd.run.adaptive import Asked, Before, Learned, Limits
from benchd.run.noise import NoiseModel

FINE = NoiseModel.stated(5e-4, 2e-3, 1e-3, 0.2)
DARK_CD_M2 = 0.6  # codes up to 5 % of these panels
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

    def mean(self, before: float, after: float, from_s: float, to_s: float) -> float:
        """Mean light over a stretch of time since the step."""
        tau = self.rise_tau_s if after > before else self.fall_tau_s
        fast = _mean_left(tau, from_s, to_s)
        slow = _mean_left(self.slow_tau_s, from_s, to_s)
        left = (1.0 - self.slow_share) * fast + self.slow_share * slow
        glow = 0.0
        if self.dimming and after < 1.0 < before:
            glow = self.dimming / (1.0 - self.dimming) * after * _mean_left(self.dimming_tau_s, from_s, to_s)
        return after + (before - after) * left + glow


def _mean_left(tau_s: float, from_s: float, to_s: float) -> float:
    return tau_s * (math.exp(-from_s / tau_s) - math.exp(-to_s / tau_s)) / (to_s - from_s)


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
    found = []
    for number, (before, after) in enumerate(itertools.pairwise(levels), start=1):
        learned.take(entries)
        change = (after - before) / max(levels)
        parts = (max(0.0, change), max(0.0, -change))
        patch = learned.begin(
            Asked(repeatability, at_most_s, dark=after <= DARK_CD_M2),
            Before(learned.luminance_of(str(number - 1)), parts=parts),
        )
        values: list[tuple[float, float]] = []
        now_s, how = 0.0, ""
        counted_from_s = 0.0
        while (length_s := patch.next_s()) is not None:
            light = panel.mean(before, after, now_s, now_s + length_s) + more(now_s)
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
                after,
                fmean(read),
                math.sqrt(variance(read)),
                len(read),
                light_seen / after - 1.0,
                now_s - counted_from_s,
                now_s,
                how,
                bool(body["met"]),
            )
        )
    return found
