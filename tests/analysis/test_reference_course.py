"""Do intervals of compensated light hold the truth, whatever the light does between the readings of the reference?"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest

from benchd.analysis.drift.reference_course import ReferenceCourse, ReferenceReading, Session
from benchd.analysis.drift.reference_walk import STILL, Course, steps_in, walk_of
from benchd.analysis.uncertainty.sources import Source, coverage_factor, effective_dof, standard

EVERY_MIN = 3.0
WALK = 0.002
"""Standard deviation of the walk over one interval, relative."""
PATCHES = 6


class World(NamedTuple):
    warms: bool = False
    walks: bool = False
    steps: bool = False


def drawn(world: World, intervals: int, u: float, dice: np.random.Generator) -> list[tuple[bool, bool]]:
    """Of each patch of one drawn run: does its interval hold the truth; does it lie in the interval of the step?"""
    times = np.arange(intervals + 1) * EVERY_MIN + dice.uniform(-0.5, 0.5, intervals + 1)
    times -= times[0]
    moments = dice.uniform(0.0, times[-1], PATCHES)
    every = np.concatenate([times, moments])
    light = np.ones(len(every))
    if world.warms:
        light -= 0.02 * np.exp(-every / 10.0)
    if world.walks:
        order = np.argsort(every)
        sizes = WALK * np.sqrt(np.diff(every[order], prepend=0.0) / EVERY_MIN)
        light[order] += np.cumsum(dice.normal(0.0, 1.0, len(every)) * sizes)
    step_min = float(dice.uniform(0.0, times[-1]))
    if world.steps:
        light += 0.01 * (every > step_min) * dice.choice([-1.0, 1.0])
    read = light + dice.normal(0.0, u, len(every))
    seen = tuple(
        ReferenceReading(
            f"reference/{k}", float(time), float(value / read[0]), ((Source(f"readings of reference/{k}"), u),), u
        )
        for k, (time, value) in enumerate(zip(times, read, strict=False))
    )
    session = Session("one", seen)
    course = ReferenceCourse([session], walk_of([session.course]), ["one"], {})
    found = []
    for moment, value in zip(moments, read[intervals + 1 :], strict=True):
        level = course.level("one", float(moment), "patch", lambda: u)
        assert level is not None
        parts = {**dict(level.relative), Source("readings of patch"): u}
        expanded = coverage_factor(effective_dof(parts)) * standard(parts)
        before = np.searchsorted(times, moment) == np.searchsorted(times, step_min)
        found.append((bool(abs(value / level.over - light[0]) <= expanded), world.steps and bool(before)))
    return found


@pytest.mark.parametrize("intervals", [4, 7, 12])
@pytest.mark.parametrize("u", [0.0002, 0.0008])
@pytest.mark.parametrize(
    "world", [World(), World(warms=True), World(walks=True), World(warms=True, walks=True), World(steps=True)]
)
def test_intervals_hold_the_light_of_every_world(world: World, u: float, intervals: int) -> None:
    """80 runs a case: 93 % less two standard deviations of what chance does to runs that share their references."""
    dice = np.random.default_rng(7)
    found = [one for _ in range(80) for one in drawn(world, intervals, u, dice)]
    assert np.mean([held for held, _ in found]) >= 0.93 - 2.0 * math.sqrt(0.05 * 0.95 / 160)
    inside = [held for held, is_inside in found if is_inside]
    if world.steps:
        assert np.mean(inside) >= 0.90 - 2.0 * math.sqrt(0.1 * 0.9 / 60)


def test_the_strength_of_a_walk_is_that_of_its_second_differences() -> None:
    """D = mean(second difference squared) / 2 - 3 u^2 by hand, for equal intervals of one minute."""
    values = [1.0, 1.003, 1.001, 1.004, 1.008]
    second = np.diff(values, 2)
    walk = walk_of([Course([0.0, 1.0, 2.0, 3.0, 4.0], values, 1e-4)])
    expected = float(np.mean(second**2)) / 2.0 - 3e-8
    assert walk.rate == pytest.approx(expected)
    assert walk.dof == pytest.approx(3.0 / 1.5 * expected / (expected + 3e-8))


def test_a_trend_is_no_walk() -> None:
    assert walk_of([Course([0.0, 3.0, 5.0, 9.0, 12.0], [1.0 + 0.001 * t for t in (0, 3, 5, 9, 12)], 1e-5)]) == STILL


def test_points_of_a_sweep_with_two_references_each_tell_a_walk_together() -> None:
    """First differences, where no point has second ones: mean of their squares less 2 u^2."""
    points = [Course([0.0, 2.0], [1.0, 1.0 + change], 1e-4) for change in (0.002, -0.001, 0.003, 0.0)]
    expected = (0.002**2 + 0.001**2 + 0.003**2) / 4.0 / 2.0 - 1e-8
    assert walk_of(points).rate == pytest.approx(expected)
    assert walk_of(points[:3]) == STILL


@pytest.mark.parametrize("interval", range(7))
def test_a_step_is_found_in_its_interval(interval: int) -> None:
    noise = np.random.default_rng(3).normal(0.0, 3e-4, 8)
    values = [1.0 + 0.01 * (k > interval) + float(noise[k]) for k in range(8)]
    assert steps_in(Course([3.0 * k for k in range(8)], values, 3e-4)) == [interval]


def test_what_two_patches_of_one_interval_share_is_under_one_name() -> None:
    """So that it adds up in a mean of both and goes out of their ratio."""
    values = [1.0, 1.003, 1.001, 1.004, 1.008, 1.002]
    seen = tuple(ReferenceReading(f"reference/{k}", 3.0 * k, value, (), 0.0) for k, value in enumerate(values))
    session = Session("one", seen)
    course = ReferenceCourse([session], walk_of([session.course]), ["one"], {})
    one, near, far = (course.level("one", at, f"patch {at}", lambda: 0.0) for at in (7.4, 7.6, 13.5))
    assert one is not None
    assert near is not None
    assert far is not None
    first, second, third = (dict(level.relative) for level in (one, near, far))
    shared = sum(part * second.get(source, 0.0) for source, part in first.items())
    assert shared > 0.75 * standard(first) * standard(second)
    assert all(source not in third for source in first)
