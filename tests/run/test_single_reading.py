"""A patch that is read once: only where the meter is known, never a reading that nothing agrees with, and with an
uncertainty that holds the truth."""

from __future__ import annotations

import math
from statistics import fmean

import pytest

from benchd.analysis.log.log_data import LogData, collect
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.adaptive.adaptive import PatchReading
from benchd.run.adaptive.learned import Learned, Limits, NoiseModel, NoiseSample
from benchd.run.adaptive.precision import PrecisionRequest, PreviousPatch
from sim.displays import MODELS, Display
from sim.scene import Scene
from sim.sensor import SensorModel
from sim.truth import truth_of
from tests.plan.helpers import steps_from
from tests.run.panels import FINE
from tests.run.scene_rig import read_precisely

WARM_UP = WarmUpLimits(9.0, 9.0, until_stable=False)
PLAN = """plan: p
warm_up: {minutes: 9}
look_again: false
repeatability: 0.5 %
order: there_and_back
blocks:
  - grayscale: {steps: 26}
  - patches: {list: [{name: r, code: [255, 0, 0]}, {name: g, code: [0, 255, 0]}, {name: b, code: [0, 0, 255]}]}
"""


@pytest.fixture(scope="module")
def fine(tmp_path_factory: pytest.TempPathFactory) -> tuple[LogData, Scene, dict[str, Step]]:
    """A fine meter, for which one of its shortest readings is enough for most patches."""
    path = tmp_path_factory.mktemp("single") / "a.log"
    scene = Scene(Display(MODELS["office-lcd"]), SensorModel(), seed=11, noise="sequence")
    steps = steps_from(PLAN)
    records = read_precisely(path, scene, steps, WARM_UP)
    return collect(records), scene, {step.id: step for step in steps if step.kind == "measure"}


def test_most_patches_are_read_once_where_that_is_enough(fine: tuple[LogData, Scene, dict[str, Step]]) -> None:
    log_data, _, steps = fine
    once = [name for name in steps if log_data.measured[name].n == 1]
    assert len(once) >= len(steps) // 2
    assert all(log_data.precisions[name]["reached"] <= 0.005 for name in once)


def test_one_reading_has_the_scatter_that_the_warm_up_taught(fine: tuple[LogData, Scene, dict[str, Step]]) -> None:
    """Type A of X, Y and Z against the noise that the scene's meter has: s^2 = (s0^2 + a^2 L + (r L)^2) t0 / t."""
    log_data, scene, steps = fine
    ratios: list[float] = []
    errors: list[float] = []
    for name, step in steps.items():
        measured = log_data.measured[name]
        if measured.n != 1:
            continue
        truth = truth_of(scene, step.patch, step.at)
        vectors = [one for one in measured.vectors() or () if one[0].name == f"readings of {name}"]
        assert vectors
        assert measured.mean is not None
        assert measured.integration_s is not None
        assert min(source.dof for source, _ in vectors) >= 30.0
        for axis in range(3):
            found = math.sqrt(sum(vector[axis] ** 2 for _, vector in vectors))
            true = scene.sensor.repeatability_cd_m2(truth[axis], measured.integration_s)
            ratios.append(found / true)
            errors.append((measured.mean[axis] - truth[axis]) / found)
    assert 0.9 <= fmean(ratios) <= 1.1
    assert min(ratios) >= 0.7
    assert max(ratios) <= 1.4
    assert 0.6 <= math.sqrt(fmean(error**2 for error in errors)) <= 1.4


def known() -> Learned:
    """A bench whose meter is known, after a warm-up that saw the panel settle at once."""
    learned = Learned(Limits())
    for level in (1.0, 10.0, 100.0):
        learned.noise.take(NoiseSample(level, FINE.per_second(level), 200.0))
    for change in ([200.0, 0.0], [0.0, 200.0]) * 20:
        level = 10.0 if change[1] else 210.0
        bins = [[0.05 * index, 0.05 * index + 0.05, 0.05, level] for index in range(200)]
        settling = {"change": [*change, False, False, False], "per_second": FINE.per_second(level), "bins": bins}
        learned.take([("x", {"luminance_cd_m2": level, "time_s": 60.0, "settling": settling})] * (learned._taken + 1))
    return learned


def readings_of(values: list[float], learned: Learned) -> tuple[list[float], list[float]]:
    """What is counted and all that is taken of a patch whose readings come in this order, the last for ever."""
    patch = PatchReading(PrecisionRequest(0.005, 60.0), PreviousPatch(100.0, parts=(0.0, 0.02)), learned)
    counted: list[float] = []
    taken: list[float] = []
    while (length_s := patch.next_s()) is not None:
        value = values[min(len(taken), len(values) - 1)]
        taken.append(value)
        counted.append(value)
        if patch.take(value, length_s, length_s, over_range=False):
            counted = []
    return counted, taken


def test_one_reading_that_agrees_with_the_one_before_it_is_enough() -> None:
    counted, taken = readings_of([96.0, 96.0], known())
    assert counted == [96.0]
    assert len(taken) == 2


@pytest.mark.parametrize("wrong", [90.0, 103.0, 60.0])
def test_one_reading_that_nothing_agrees_with_does_not_stand(wrong: float) -> None:
    counted, _ = readings_of([96.0, wrong, 96.0], known())
    assert len(counted) >= 2


def test_a_meter_whose_noise_is_only_stated_is_never_read_once() -> None:
    """Analysis has the log alone: what the bench states of the noise, no interval rests on."""
    learned = Learned(Limits(), FINE, 200.0)
    learned.panel = known().panel
    counted, _ = readings_of([96.0, 96.0], learned)
    assert len(counted) >= 4


def test_a_meter_that_is_not_known_is_never_read_once() -> None:
    learned = Learned(Limits(), NoiseModel.stated(5e-4, 2e-3, 1e-3, 0.2), 25.0)
    learned.panel = known().panel
    counted, _ = readings_of([96.0, 96.0], learned)
    assert len(counted) >= 4
