"""How long precise steps will take: the rules of a run, over the light and the noise that a bench expects.

No formula stands for the rules: they are run, on a display of two time constants with noise that is always the same. So
the estimate knows of watches, of the cap, and of what the meter teaches on the way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from hashlib import blake2b
from itertools import count
from statistics import NormalDist, median

from benchd.instruments.meter import Reading, Status
from benchd.patch.model import Patch, field, grey, max_code
from benchd.plan.expected import Expected
from benchd.plan.safety import is_alternation, relative_luminance
from benchd.plan.step import Step
from benchd.plan.timing import Timing
from benchd.run.adaptive import PatchReading
from benchd.run.asked import Asked
from benchd.run.learned import Learned, Limits
from benchd.run.lessons import LESSONS, REST_S, teach
from benchd.run.noise import NoiseModel
from benchd.run.precise import before_of, stated_noise
from benchd.run.settle import LEAST_BETWEEN_ALTERNATIONS_S

_SIDE = 1440


def expected_seconds(
    steps: Sequence[Step], expected: Expected, timing: Timing, limits: Limits | None = None
) -> dict[str, float]:
    """Seconds of bench time of each precise step, moves left out, by its id: the median of three tries."""
    tries = [_one_try(steps, expected, timing, limits, number) for number in range(3)]
    return {step: median(one[step] for one in tries) for step in tries[0]}


def _one_try(
    steps: Sequence[Step], expected: Expected, timing: Timing, limits: Limits | None, number: int
) -> dict[str, float]:
    noise, deviates = stated_noise(expected), _deviates(number)
    learned = Learned(limits, noise if expected.noise_dof else None, expected.noise_dof)
    entries: list[tuple[str, dict[str, object]]] = []
    found: dict[str, float] = {}
    shown, light, alternated_s, now_s = field(grey(0)), expected.black_cd_m2, -math.inf, 0.0
    for before, step in zip([None, *steps], steps, strict=False):
        if before is not None and before.at != step.at:
            now_s += timing.move_s
        began_s = now_s
        if is_alternation(shown, step.patch):
            now_s = max(now_s, alternated_s + LEAST_BETWEEN_ALTERNATIONS_S)
            alternated_s = now_s
        shown, left = step.patch, light
        light = _light(step, expected)
        if before is not None and before.patch == step.patch:
            left = light  # only the meter was moved
        now_s += timing.show_s
        if step.precision is None:
            if step.kind == "warm_up":
                lessons = _lessons(step, expected, noise, deviates, learned.limits)
                entries.append((step.id, {"luminance_cd_m2": light, "lessons": lessons}))
            else:
                now_s += step.settle_s + step.readings * (step.integration_s or timing.reading_s)
            continue
        learned.take(entries)
        fixed_s = step.integration_s if step.precision.fixed_time else None
        asked = Asked(step.precision.repeatability, step.precision.at_most_s, fixed_s, step.dark)
        patch = PatchReading(asked, before_of(learned, before, step), learned)
        tau_s = expected.rise_tau_s if light > left else expected.fall_tau_s
        since_s = 0.0
        while (length_s := patch.next_s()) is not None:
            since_s += patch.pause_s
            seen = light + (left - light) * _mean_left(tau_s, since_s, since_s + length_s)
            seen += math.sqrt(noise.per_second(seen) / length_s) * next(deviates)
            since_s += length_s
            patch.take(seen, length_s, length_s, over_range=False)
        entries.append((step.id, patch.reached()))
        now_s += since_s
        found[step.id] = now_s - began_s
    return found


def _lessons(
    step: Step, expected: Expected, noise: NoiseModel, deviates: Iterator[float], limits: Limits
) -> list[dict[str, object]]:
    """What a warm-up of usual length teaches of the display that is expected."""
    light = left = _light(step, expected)
    since_s = 0.0

    def show(patch: Patch) -> None:
        nonlocal light, left, since_s
        light, left, since_s = _light_of(patch, step.at, expected), light, 0.0

    def read(length_s: float) -> Reading:
        nonlocal since_s
        tau_s = expected.rise_tau_s if light > left else expected.fall_tau_s
        seen = light + (left - light) * _mean_left(tau_s, since_s, since_s + length_s)
        seen += math.sqrt(noise.per_second(seen) / length_s) * next(deviates)
        since_s += length_s
        return Reading((seen, seen, seen), Status.OK, length_s, "", 0.0)

    taught: list[dict[str, object]] = []
    for _ in range(LESSONS):
        taught += teach(step.patch, light, show, read, limits, taught)
        taught[-1]["time_s"] = REST_S
        show(step.patch)
    return taught


def _light(step: Step, expected: Expected) -> float:
    return _light_of(step.patch, step.at, expected)


def _light_of(patch: Patch, at: tuple[float, float], expected: Expected) -> float:
    top = max_code(patch.bits)
    red, green, blue = ((code / top) ** expected.gamma for code in patch.code_at(*at, _SIDE, _SIDE))
    return expected.black_cd_m2 + (expected.white_cd_m2 - expected.black_cd_m2) * relative_luminance((red, green, blue))


def _mean_left(tau_s: float, from_s: float, to_s: float) -> float:
    """Mean of exp(-t / tau) over a stretch of time."""
    if tau_s <= 0.0:
        return 0.0
    return tau_s * (math.exp(-from_s / tau_s) - math.exp(-to_s / tau_s)) / (to_s - from_s)


def _deviates(series: int) -> Iterator[float]:
    """Standard normal deviates, the same in every run and version."""
    normal = NormalDist()
    for number in count():
        raw = blake2b(f"{series}/{number}".encode(), digest_size=8).digest()
        yield normal.inv_cdf((int.from_bytes(raw, "big") + 0.5) / 2.0**64)
