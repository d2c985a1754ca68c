"""How long precise steps will take: the rules of a run, over the light and the noise that a bench expects.

No formula stands for the rules: they are run, on a display of two or three time constants with noise that is always
the same. So the estimate includes watched patches, the cap, and what becomes known of the meter during the run.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from hashlib import blake2b
from itertools import count
from statistics import median

from benchd.distributions import normal_quantile
from benchd.instruments.meter import Reading, Status
from benchd.patch.model import Patch, field, grey, max_code
from benchd.plan.safety import MIN_BETWEEN_S, is_alternation, relative_luminance
from benchd.plan.step import Step
from benchd.profile.display import Expected
from benchd.profile.timing import Timing
from benchd.run.adaptive.learned import Learned, Limits
from benchd.run.adaptive.precise_step import Precise, stated_noise
from benchd.run.adaptive.warm_up_characterisation import MINUTES, REST_S, characterise
from benchd.run.log.records import Body, RunState


def expected_seconds(
    steps: Sequence[Step], expected: Expected, timing: Timing, limits: Limits | None = None
) -> dict[str, float]:
    """Seconds of bench time of each precise step, moves left out, by its id: the median of three tries."""
    tries = [_one_try(steps, expected, timing, limits, number) for number in range(3)]
    return {step: median(one[step] for one in tries) for step in tries[0]}


def _one_try(
    steps: Sequence[Step], expected: Expected, timing: Timing, limits: Limits | None, number: int
) -> dict[str, float]:
    learned = Learned(limits, stated_noise(expected) if expected.noise_dof else None, expected.noise_dof)
    state, panel = RunState(), _Panel(expected, _deviates(number))
    precise = Precise(steps, state, learned)
    found: dict[str, float] = {}
    shown, alternated_s, now_s = field(grey(0)), -math.inf, 0.0
    for index, (before, step) in enumerate(zip([None, *steps], steps, strict=False), start=1):
        if before is not None and before.at != step.at:
            now_s += timing.move_s
        began_s = now_s
        if is_alternation(shown, step.patch):
            if (wait_s := alternated_s + MIN_BETWEEN_S - now_s) > 0.0:
                panel.wait(wait_s)
                now_s += wait_s
            alternated_s = now_s
        shown, light = step.patch, _light_of(step.patch, step.at, expected)
        panel.show(light, at_once=before is not None and before.patch == step.patch)  # only the meter was moved
        now_s += timing.show_s
        if step.precision is None:
            if step.kind == "warm_up":
                bodies = _characterisation(step, expected, panel, learned.limits)
                state.adaptive.append((step.id, {"luminance_cd_m2": light, "lessons": bodies}))
            else:
                now_s += step.settle_s + step.readings * (step.integration_s or timing.reading_s)
            panel.show(light, at_once=True)
            continue
        panel.spent_s = 0.0
        _, body = precise.read(
            step, index, lambda one, number: panel.read(one.integration_s or 0.0), lambda settled: None, panel.wait
        )
        state.adaptive.append((step.id, body["precision"]))
        now_s += panel.spent_s
        found[step.id] = now_s - began_s
    return found


def _characterisation(step: Step, expected: Expected, like: _Panel, limits: Limits) -> list[Body]:
    """The characterisation that a warm-up of usual length gives of the expected display, with the noise of ``like``."""
    light, panel = _light_of(step.patch, step.at, expected), _Panel(expected, like.deviates)
    panel.show(light, at_once=True)

    def show(patch: Patch) -> None:
        panel.show(_light_of(patch, step.at, expected))

    bodies: list[Body] = []
    for _ in range(MINUTES):
        bodies += characterise(step.patch, light, show, panel.read, limits, bodies)
        bodies[-1]["time_s"] = REST_S
        show(step.patch)
        panel.wait(REST_S)
    return bodies


def _light_of(patch: Patch, at: tuple[float, float], expected: Expected) -> float:
    top = max_code(patch.bits)
    red, green, blue = ((code / top) ** expected.gamma for code in patch.code_at(*at))
    relative = relative_luminance((red, green, blue))
    level = relative * patch.area_percent / 100.0
    limited = relative * (1.0 + expected.limiting) / (1.0 + expected.limiting * level)
    return expected.black_cd_m2 + (expected.white_cd_m2 - expected.black_cd_m2) * limited


class _Panel:
    """Light that follows each change with a fast and a slow exponential, read with noise that is always the same."""

    def __init__(self, expected: Expected, deviates: Iterator[float]) -> None:
        self._expected, self._noise, self.deviates = expected, stated_noise(expected), deviates
        self.spent_s = 0.0
        self._fast = self._slow = self._end = expected.black_cd_m2

    def show(self, light: float, *, at_once: bool = False) -> None:
        """Another light from now on."""
        self._end = light
        if at_once:
            self._fast = self._slow = light

    def wait(self, seconds: float) -> None:
        """Let the seconds pass."""
        self._mean(seconds)

    def read(self, length_s: float) -> Reading:
        """One reading."""
        seen = self._mean(length_s)
        seen += math.sqrt(self._noise.per_second(seen) / length_s) * next(self.deviates)
        return Reading((seen, seen, seen), Status.OK, length_s, "", 0.0)

    def _mean(self, seconds: float) -> float:
        known = self._expected
        self.spent_s += seconds
        tau_s = known.rise_tau_s if self._end > self._fast else known.fall_tau_s
        fast, self._fast = _follow(self._fast, self._end, tau_s, seconds)
        slow, self._slow = _follow(self._slow, self._end, known.slow_tau_s, seconds)
        return (1.0 - known.slow_share) * fast + known.slow_share * slow


def _follow(now: float, end: float, tau_s: float, seconds: float) -> tuple[float, float]:
    """Mean over the seconds, and where it is after them."""
    if tau_s <= 0.0:
        return end, end
    fade = math.exp(-seconds / tau_s)
    return end + (now - end) * tau_s * (1.0 - fade) / seconds, end + (now - end) * fade


def _deviates(series: int) -> Iterator[float]:
    """Standard normal deviates, the same in every run and version."""
    for number in count():
        raw = blake2b(f"{series}/{number}".encode(), digest_size=8).digest()
        yield normal_quantile((int.from_bytes(raw, "big") + 0.5) / 2.0**64)
