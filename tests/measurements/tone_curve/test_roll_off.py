"""A tone curve's end from any number of codes: one verdict a display or none, intervals that hold the truth.

The displays are drawn here by laws of their own; the PQ scale is colour-science's (SMPTE ST 2084).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
import pytest

from benchd.analysis.catalogue_figure import figure_of
from benchd.analysis.uncertainty.difference_interval import asymmetric_difference
from benchd.analysis.uncertainty.quantity import Quantity, relabelled
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.measurements.tone_curve.ending import Knee, knee_of, limits
from benchd.measurements.tone_curve.results import KNEE
from tests.oracles import colour

Law = Callable[[np.ndarray], np.ndarray]
STEPS = (17, 33, 65, 129)
SCALE, READING = 0.006, 0.001
"""Standard uncertainties of the drawn meter: of its scale, and of a mean of readings."""


@cache
def asked(steps: int) -> np.ndarray:
    codes = np.unique(np.floor(np.linspace(0, 1023, steps) + 0.5))
    return np.asarray(colour.models.eotf_ST2084(codes / 1023))


def hard(peak: float) -> Law:
    return lambda light: np.minimum(light, peak)


def soft(peak: float, room: float) -> Law:
    """Straight up to ``1 - room`` of the peak, then an exponential approach to it."""
    knee = 1.0 - room
    return lambda light: (
        peak * np.where(light <= knee * peak, light / peak, 1.0 - room * np.exp(-(light / peak - knee) / room))
    )


def rounded(peak: float, width: float) -> Law:
    """The corner of a clip made round: a p-norm."""
    return lambda light: light / (1.0 + (light / peak) ** (1.0 / width)) ** width


def rippled(law: Law, size: float, phase: float) -> Law:
    """The same with a curve that waves about the scale below its end."""
    return lambda light: law(light * (1.0 + size * np.sin(5.0 * np.log(np.maximum(light, 1e-3)) + phase)))


DISPLAYS: dict[str, tuple[str, Callable[[float], Law]]] = {
    "hard clip": ("clips", hard),
    "hard clip, 3 % too bright": ("clips", lambda peak: lambda light: hard(peak)(1.03 * light)),
    "hard clip, a wave of 1.5 %": ("clips", lambda peak: rippled(hard(peak), 0.015, peak)),
    "soft over 5 %": ("clips", lambda peak: soft(peak, 0.05)),
    "soft over 25 %": ("rolls off", lambda peak: soft(peak, 0.25)),
    "soft over 25 %, a wave of 1.5 %": ("rolls off", lambda peak: rippled(soft(peak, 0.25), 0.015, peak)),
    "soft over 60 %": ("rolls off", lambda peak: soft(peak, 0.6)),
    "round over 10 %": ("rolls off", lambda peak: rounded(peak, 0.1)),
    "round over 30 %": ("rolls off", lambda peak: rounded(peak, 0.3)),
}


def truth(law: Law) -> tuple[float, float]:
    """Knee in cd/m2 and shortfall in %, from forty thousand levels."""
    levels = np.geomspace(1.0, 10000.0, 40_001)
    light = law(levels)
    last = int(np.flatnonzero(light >= 0.95 * levels)[-1])
    above = slice(last + 1, None)
    clip = np.minimum(levels[above], light.max())
    return float(levels[last]), max(0.0, 100.0 * float((1.0 - light[above] / clip).max()))


def measured(law: Law, steps: int, dice: np.random.Generator, scale: float = SCALE, *, drawn: bool = True) -> Knee:
    """By a meter whose scale is off by a drawn error; ``drawn`` False: by one whose scale happens to be right."""
    levels = asked(steps)
    off = scale * dice.standard_normal() if drawn else 0.0
    lights = []
    for index, level in enumerate(levels):
        light = float(law(np.array([level]))[0]) * (1.0 + off + READING * dice.standard_normal())
        parts = ((Source("scale"), scale * light), (Source(f"readings of {index}"), READING * light))
        lights.append(Quantity(light, "cd/m2", 3, 0.0, sources=Fixed(parts)))
    return knee_of([float(level) for level in levels], lights, "tone")


@pytest.mark.parametrize("display", DISPLAYS)
def test_one_display_has_one_verdict_and_intervals_that_hold_it(display: str) -> None:
    """4 peaks on 4 grids: no display both clips and rolls off, and 95 % of the intervals hold knee and shortfall."""
    expected, law_of = DISPLAYS[display]
    dice = np.random.default_rng([11, *display.encode()])
    held_knee, held_short, wide = [], [], {steps: list[float]() for steps in STEPS}
    for _ in range(4):
        law = law_of(float(np.exp(dice.uniform(math.log(300.0), math.log(3000.0)))))
        knee, short = truth(law)
        verdicts = set()
        for steps in STEPS:
            found = measured(law, steps, dice)
            at, below = found.at.interval, found.below_clip.interval
            assert at is not None
            assert below is not None
            low, high = at
            held_knee.append(low <= knee <= high)
            wide[steps].append(high / low)
            low, high = below
            held_short.append(low <= short <= high + 1e-6)
            verdicts.add(found.ending)
            assert found.ending in (expected, "inconclusive"), (steps, found.words)
            if found.ending == "inconclusive":
                assert "more steps would decide" in found.words or "uncertainty" in found.words
        assert expected in verdicts, "with enough steps there is a verdict"
    # 16 of each: 13 are reached by intervals of 95 % in all but 1 of 100 displays (binomial).
    assert sum(held_knee) >= 13
    assert sum(held_short) >= 13
    # No wider than the distance of two codes and what the scale does where the curve is soft.
    for steps in STEPS:
        levels = asked(steps)
        levels = levels[levels > 200.0]
        step = float((levels[1:] / levels[:-1]).max())
        assert np.median(wide[steps]) <= step * 1.15


def test_a_display_near_the_limit_is_called_neither() -> None:
    """Missing 2.99 % at the most: both verdicts would be chance."""
    dice = np.random.default_rng(5)
    law = soft(1000.0, 0.1)
    assert truth(law)[1] == pytest.approx(2.99, abs=0.1)
    assert {measured(law, steps, dice).ending for steps in STEPS} == {"inconclusive"}


def test_the_limits_of_a_hard_clip_close_on_it_with_the_codes() -> None:
    """Without any error of the readings: the knee of a clip at 1000 cd/m2 is 1000 / 0.95."""
    last = math.inf
    for steps in (17, 33, 65, 129, 1024):
        levels = asked(steps)[1:]
        found = limits(hard(1000.0)(levels)[None], levels)
        low, high = float(found.knee_low[0]), float(found.knee_high[0])
        assert low <= 1000.0 / 0.95 + 1e-6
        assert high >= 1000.0 / 0.95 - 1e-6
        assert high - low <= last + 1e-9
        last = high - low
        assert float(found.short_low[0]) == pytest.approx(0.0, abs=1e-12)
    assert last < 5.0


def knees(scale: float, law: Law, steps: int = 65) -> Knee:
    return measured(law, steps, np.random.default_rng(3), scale, drawn=False)


def test_where_the_scale_is_less_sure_than_the_five_percent_the_knee_is_a_bound() -> None:
    """U of 9 % of a screen that keeps the curve: nobody knows whether any code comes within 5 %."""
    found = knees(0.045, hard(1000.0))
    assert found.at.bound == "below"
    assert "no code keeps up" in found.at.why
    assert found.ending == "inconclusive"


def test_a_screen_that_keeps_up_and_one_that_never_does() -> None:
    up = knees(SCALE, lambda light: light)
    assert (up.at.value, up.ending) == (None, "keeps up")
    never = knees(SCALE, lambda light: 0.9 * light)
    assert (never.at.value, never.ending) == (None, "not on the curve")
    perhaps = knees(SCALE, lambda light: 0.951 * light)
    assert (perhaps.at.value, perhaps.ending) == (None, "inconclusive")


def test_readings_without_an_uncertainty_give_no_verdict() -> None:
    levels = [float(level) for level in asked(65)]
    lights = [Quantity(min(level, 800.0), "cd/m2", 1) for level in levels]
    found = knee_of(levels, lights, "tone")
    assert found.at.value == pytest.approx(800.0 / 0.95, rel=0.05)
    assert found.at.interval is None
    assert found.ending == "inconclusive"
    assert "not known" in found.words


def test_a_light_that_falls_again_is_no_clip() -> None:
    levels = asked(65)
    lights = [
        Quantity(light, "cd/m2", 3, 0.0, sources=Fixed(((Source(f"readings of {index}"), 0.001 * light),)))
        for index, light in enumerate(np.where(levels > 3000.0, 900.0, np.minimum(levels, 1000.0)).tolist())
    ]
    found = knee_of(levels.tolist(), lights, "tone")
    assert found.ending == "inconclusive"
    assert "falls again" in found.words


def test_over_range_there_is_no_verdict() -> None:
    levels = asked(33)
    lights = [
        Quantity(min(light, 700.0), "cd/m2", 3, None, bound="above" if light > 700.0 else None, sources=Fixed())
        for light in levels.tolist()
    ]
    found = knee_of(levels.tolist(), lights, "tone")
    assert (found.at.value, found.ending) == (None, "inconclusive")
    assert "over the meter's range" in found.words


def difference_of(first: Knee, second: Knee) -> tuple[float, float]:
    pair: Sequence[Quantity] = [relabelled(one.at, f"{side}:") for side, one in enumerate((first, second))]
    found = asymmetric_difference(*pair).interval
    assert found is not None
    return found


def test_two_knees_of_one_display_from_two_grids_do_not_differ() -> None:
    """What the codes leave open is in the difference too; two displays 40 % apart stay apart."""
    dice = np.random.default_rng(9)
    for peak in (450.0, 700.0, 1100.0, 2000.0):
        low, high = difference_of(measured(hard(peak), 33, dice), measured(hard(peak), 65, dice))
        assert low <= 0.0 <= high
        low, _ = difference_of(measured(hard(1.4 * peak), 65, dice), measured(hard(peak), 65, dice))
        assert low > 0.0


def test_the_budget_names_the_distance_of_the_codes() -> None:
    found = knees(SCALE, hard(1000.0), 33)
    sources = found.at.sources
    assert sources is not None
    contributions = sources.contributions()
    assert contributions is not None
    low, high = limits(hard(1000.0)(asked(33)[5:])[None], asked(33)[5:])[:2]
    assert contributions[Source("distance of the codes of tone")] == pytest.approx(
        float(high[0] - low[0]) / math.sqrt(12.0), rel=0.1
    )
    assert figure_of(KNEE, found.at, "", "tone").quantity.u is not None
