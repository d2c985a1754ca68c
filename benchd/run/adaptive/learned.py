"""What is known from a log so far, for patches that are read to a precision: noise, settling, luminances. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from benchd.run.adaptive.repeatability import Noise, NoiseModel, NoiseSample
from benchd.run.adaptive.settling import PanelModel, from_body
from benchd.run.adaptive.settling_model import LESSONS_MODEL, MODEL

SHORTEST_S, LONGEST_S = 0.05, 4.0
"""Shortest and longest reading that is requested; the meter's own limits take precedence."""
UNLIKE = (1.0, 2.0, 4.0, 8.0)
"""Factors tried in turn on what shares are uncertain by, until they explain the warm-up characterisation."""
MISFIT = 1.5


class Limits(NamedTuple):
    """What the meter can do: shortest and longest integration, and the lowest luminance of its range."""

    shortest_s: float = SHORTEST_S
    longest_s: float = LONGEST_S
    floor_cd_m2: float = 0.0


class Learned:
    """What is known from this log so far: the meter's noise, the panel's settling, the luminances of the steps."""

    def __init__(self, limits: Limits | None = None, stated: NoiseModel | None = None, stated_dof: float = 0.0) -> None:
        self.limits = limits or Limits()
        self.noise = Noise(stated, stated_dof)
        self.panel = PanelModel()
        self._luminance: dict[str, float] = {}
        self.brightest_cd_m2 = 0.0
        self._taken = 0

    def take(self, entries: list[tuple[str, dict[str, Any]]]) -> None:
        """What the log holds of adaptive steps, in order; those that were taken before are passed over."""
        for step, body in entries[self._taken :]:
            if body.get("luminance_cd_m2") is not None:
                self._luminance[step] = float(body["luminance_cd_m2"])
                self.brightest_cd_m2 = max(self.brightest_cd_m2, self._luminance[step])
            for taught in (*body.get("lessons", ()), body):
                self.brightest_cd_m2 = max(self.brightest_cd_m2, float(taught.get("luminance_cd_m2") or 0.0))
                for seen in taught.get("scatter", ()):
                    self.noise.take(NoiseSample(*seen))
            self._take_characterisation(body.get("lessons", ()))
            self._take_settling(body, lesson=False)
        self._taken = len(entries)

    def _take_characterisation(self, lessons: Sequence[dict[str, Any]]) -> None:
        """What is left at a moment counts the less, the less alike the changes settle."""
        before = self.panel
        for unlike in UNLIKE if lessons else ():
            self.panel = before.copy()
            self.panel.unlike = unlike
            for taught in lessons:
                self._take_settling(taught, lesson=True)
            if self.panel.misfit <= MISFIT:
                break

    def _take_settling(self, body: dict[str, Any], *, lesson: bool) -> None:
        if "settling" in body:
            change, bins, per_second = from_body(body["settling"])
            if lesson and bins:  # the noise is poorly known from some seconds, and so are weights by it
                level = max(float(body["luminance_cd_m2"]), self.limits.floor_cd_m2)
                per_second = self.noise.per_second(level) or per_second
            model = LESSONS_MODEL if lesson else MODEL
            self.panel.take(change, bins, per_second, float(body["time_s"]), self.brightest_cd_m2, model)

    def luminance_of(self, step: str) -> float | None:
        """What a step read, in cd/m2, where it was read in this way."""
        return self._luminance.get(step)


def limits_of(low_s: float | None, high_s: float | None, floor_cd_m2: float | None) -> Limits:
    """Our limits within those of a meter that reports some."""
    shortest = SHORTEST_S if low_s is None else max(SHORTEST_S, low_s)
    longest = LONGEST_S if high_s is None else min(LONGEST_S, high_s)
    return Limits(shortest, max(shortest, longest), floor_cd_m2 or 0.0)
