"""What a plan that is read to a precision is said to take, against what a run after a warm-up takes: within a tenth.

All scenes of the benchmark, as a bench's profile describes them. Moves are counted on neither side.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchd.plan.step import Step
from benchd.profile.display import Expected
from benchd.profile.timing import Timing
from benchd.run.adaptive.expected_time import _one_try, expected_seconds
from benchd.run.adaptive.learned import Limits
from sim.scene import MOVE_S
from tests.bench.adaptive import CASES, Case, run, steps_of
from tests.plan.helpers import steps_from
from tests.run.test_precise import PLAN


def expected_of(case: Case) -> Expected:
    """What the bench's profile says of a scene."""
    model, sensor = case.model, case.sensor
    slow = {"slow_share": model.slow_share, "slow_tau_s": model.slow_tau_s} if model.slow_share else {}
    return Expected(
        white_cd_m2=model.white_cd_m2 / (1.0 + model.limiting),
        black_cd_m2=model.black_cd_m2,
        limiting=model.limiting,
        rise_tau_s=model.rise_tau_s,
        fall_tau_s=model.fall_tau_s,
        dark_noise_cd_m2=sensor.dark_cd_m2,
        shot_noise=sensor.shot,
        scale_noise=sensor.scale,
        **slow,
    )


def small_plan(case: Case) -> tuple[Step, ...]:
    """Some greys, colours and places."""
    text = PLAN.format(asked=f"{100 * case.repeatability:g}").replace("warm_up: none", "warm_up: {minutes: 20}")
    return steps_from(text.replace("at_most_s: 20", "at_most_s: 60"))


def estimate_and_run(case: Case, steps: tuple[Step, ...], folder: Path, seed: int) -> tuple[float, float]:
    """Seconds, both without moves."""
    timing, limits = Timing(show_s=0.0, move_s=0.0), Limits(floor_cd_m2=case.sensor.floor_cd_m2)
    ran = run(case, steps, folder, seed)
    moved_s = MOVE_S * sum(record.kind == "moved" for record in ran.records)
    return sum(expected_seconds(steps, expected_of(case), timing, limits).values()), ran.seconds - moved_s


def named(case: Case) -> str:
    """Scene, meter and what is asked."""
    return f"{case.name.rsplit(',', 1)[0]}, {100 * case.repeatability:g} %"


SCENES = {named(case): case for one in CASES for case in (one, replace(one, repeatability=0.005))}
QUICK = (
    "office-lcd, fine meter, 0.1 %",
    "office-lcd, small meter, 0.2 %",
    "emissive, small meter, 0.5 %",
)


@pytest.mark.parametrize("name", [pytest.param(one, marks=[] if one in QUICK else pytest.mark.long) for one in SCENES])
def test_a_small_plan_is_estimated_within_a_tenth(tmp_path: Path, name: str) -> None:
    case = SCENES[name]
    estimated_s, took_s = estimate_and_run(case, small_plan(case), tmp_path, 7)
    assert estimated_s == pytest.approx(took_s, rel=0.10)


@pytest.mark.long
@pytest.mark.parametrize("seed", [7, 8])
@pytest.mark.parametrize("name", SCENES)
def test_a_usual_plan_is_estimated_within_a_tenth(tmp_path: Path, name: str, seed: int) -> None:
    case = SCENES[name]
    estimated_s, took_s = estimate_and_run(case, steps_of(case), tmp_path, seed)
    assert estimated_s == pytest.approx(took_s, rel=0.10)


def test_what_a_warm_up_happens_to_teach_changes_the_time_little() -> None:
    """A slow panel whose time constant lies between two of the grid: no warm-up may teach a tail that is not there."""
    case = SCENES["slow-lcd (6 % with 0.4 s), small meter, 0.5 %"]
    steps, expected, timing = small_plan(case), expected_of(case), Timing(show_s=0.0, move_s=0.0)
    limits = Limits(floor_cd_m2=case.sensor.floor_cd_m2)
    tries = [sum(_one_try(steps, expected, timing, limits, number).values()) for number in range(6)]
    assert max(tries) <= 1.15 * min(tries)
