"""Plans that are read to a precision through the sequencer: the log, a resume after SIGKILL, a replay, the estimate."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchd.analysis.log.log_data import collect
from benchd.clock import StopRequest
from benchd.plan.estimate import estimate
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Precision, Step
from benchd.plan.steps import expand
from benchd.profile.display import Expected
from benchd.profile.timing import Timing
from benchd.run.adaptive.expected_time import expected_seconds
from benchd.run.adaptive.learned import Limits
from benchd.run.log.records import CONSECUTIVE, Record, fold
from benchd.run.sequencer import Sequencer
from sim.displays import MODELS, Display, DisplayModel
from sim.scene import MOVE_S, Scene
from sim.sensor import SensorModel
from sim.truth import truth_of
from tests.plan.helpers import plan_from, steps_from
from tests.run.kill_anywhere import none_differs
from tests.run.rig import ScriptedRig, run, step
from tests.run.scene_rig import SceneRig, read_precisely, session_log

ROOT = Path(__file__).resolve().parents[2]
PLAN = """plan: p
target: srgb
warm_up: none
look_again: false
repeatability: {asked} %
reading_time_at_most_s: 20
order: there_and_back
blocks:
  - luminance: {{}}
  - grayscale: {{steps: 11}}
  - patches: {{list: [{{name: r, code: [255, 0, 0]}}, {{name: g, code: [0, 255, 0]}}, {{name: b, code: [0, 0, 255]}}]}}
  - uniformity: {{grid: 3x3}}
"""


def steps_of(asked: float = 0.5) -> tuple[Step, ...]:
    return steps_from(PLAN.format(asked=asked))


def on_scene(path: Path, model: DisplayModel, sensor: SensorModel, asked: float) -> tuple[list[Record], float, Scene]:
    scene = Scene(Display(model), sensor, seed=5, noise="sequence")
    return read_precisely(path, scene, steps_of(asked)), scene.now_s, scene


SMALL = SensorModel(dark_cd_m2=2.5e-3, shot=1e-2, scale=5e-3)


def test_analysis_counts_what_is_read_after_settling(tmp_path: Path) -> None:
    records, _, scene = on_scene(tmp_path / "a.log", MODELS["office-lcd"], SensorModel(), 0.5)
    log_data = collect(records)
    done = {record.step: record.body for record in records if record.kind == "done"}
    for name, measured in log_data.measured.items():
        assert measured.n == done[name]["readings"] >= 2
    for wanted in steps_of():
        measured = log_data.measured[wanted.id]
        assert measured.mean is not None
        truth = truth_of(scene, wanted.patch, wanted.at)[1]
        assert measured.mean[1] == pytest.approx(truth, rel=5 * 0.005)
    taken = sum(record.kind == "reading" for record in records)
    assert log_data.readings < taken, "those taken while it settled are in the log too"
    assert fold(records).readings == log_data.readings


def test_the_log_says_what_was_reached_and_what_was_not(tmp_path: Path) -> None:
    records, _, _ = on_scene(tmp_path / "a.log", MODELS["emissive"], SMALL, 0.5)
    precisions = {record.step: record.body["precision"] for record in records if record.kind == "done"}
    black, white = precisions["luminance/black"], precisions["luminance/white"]
    assert white["met"]
    assert white["reached"] <= 0.005
    assert not black["met"]
    assert black["reached"] > 0.005
    assert black["why"] == "after 20 s"
    assert all(body["time_s"] <= 20.0 for body in precisions.values())


def test_a_kill_anywhere_changes_no_result(tmp_path: Path) -> None:
    plan = tmp_path / "p.yaml"
    plan.write_text(PLAN.format(asked=0.5).replace("3x3", "2x1").replace("steps: 11", "steps: 4"))
    for first, last in ((3, 6), (120, 124)):
        none_differs(plan, first, last)


def test_a_meter_that_can_not_be_told_reads_as_the_plan_counts(tmp_path: Path) -> None:
    """The scripted meter takes 0.2 s whatever is asked."""
    precise = [
        replace(one, precision=one_precision(), procedure="precision")
        for one in (step("a", 0), step("b", 255, readings=4))
    ]
    outcome, records = run(tmp_path / "a.log", precise, ScriptedRig())
    assert outcome.complete
    done = {record.step: record.body for record in records if record.kind == "done"}
    assert done["a"]["readings"] == 3
    assert done["b"]["readings"] == 4
    assert "takes no integration time" in done["b"]["precision"]["why"]
    assert collect(records).measured["b"].n == 4


def one_precision() -> Precision:
    return Precision(0.005, 20.0)


SLOW = replace(MODELS["office-lcd"], slow_share=0.05, slow_tau_s=0.3)
SCENES = {
    "office, fine meter": (MODELS["office-lcd"], SensorModel(), Expected(white_cd_m2=350, black_cd_m2=0.32), 0.5),
    "office, fine meter, 0.2 %": (
        MODELS["office-lcd"],
        SensorModel(),
        Expected(white_cd_m2=350, black_cd_m2=0.32, rise_tau_s=0.012),
        0.2,
    ),
    "office, small meter": (
        MODELS["office-lcd"],
        SMALL,
        Expected(
            white_cd_m2=350,
            black_cd_m2=0.32,
            rise_tau_s=0.012,
            dark_noise_cd_m2=2.5e-3,
            shot_noise=1e-2,
            scale_noise=5e-3,
        ),
        0.5,
    ),
    "wide gamut": (MODELS["wide-gamut-lcd"], SensorModel(), Expected(white_cd_m2=450, black_cd_m2=0.32), 0.3),
}


@pytest.mark.parametrize("name", SCENES)
def test_the_estimate_is_within_a_tenth(tmp_path: Path, name: str) -> None:
    model, sensor, expected, asked = SCENES[name]
    _, took_s, _ = on_scene(tmp_path / "a.log", model, sensor, asked)
    steps = steps_of(asked)
    timing = Timing(show_s=0.0, move_s=MOVE_S)
    plan = plan_from(PLAN.format(asked=asked))
    precise_s = expected_seconds(steps, expected, timing, Limits(floor_cd_m2=sensor.floor_cd_m2))
    planned_s = estimate(steps, timing, plan, manual_moves=False, precise_s=precise_s).minimum_s
    assert planned_s == pytest.approx(took_s, rel=0.10)


def test_the_estimate_after_a_warm_up_of_a_display_that_limits_its_brightness(tmp_path: Path) -> None:
    text = PLAN.format(asked=0.4).replace("warm_up: none", "warm_up: {minutes: 20}")
    steps = steps_from(text)
    sensor = SensorModel()
    scene = Scene(Display(MODELS["emissive"]), sensor, seed=5, noise="sequence")
    records = read_precisely(tmp_path / "a.log", scene, steps, WarmUpLimits(20.0, 20.0, until_stable=False))
    warm_ns = next(r.mono_ns for r in records if r.kind == "done" and r.step == CONSECUTIVE)
    moves_s = MOVE_S * sum(record.kind == "moved" for record in records)
    expected = Expected(white_cd_m2=250, black_cd_m2=0.0003, rise_tau_s=0.002, fall_tau_s=0.002, limiting=2.44)
    found = expected_seconds(steps, expected, Timing(show_s=0.0, move_s=MOVE_S), Limits(floor_cd_m2=sensor.floor_cd_m2))
    assert sum(found.values()) + moves_s == pytest.approx((records[-1].mono_ns - warm_ns) / 1e9, rel=0.10)


def test_a_fixed_plan_is_estimated_within_a_tenth(tmp_path: Path) -> None:
    text = PLAN.format(asked=0.5).replace("repeatability: 0.5 %", "integration_s: 0.5\nsettle_s: 1")
    plan = plan_from(text)
    steps = expand(plan, {})
    scene = Scene(Display(MODELS["office-lcd"]), SensorModel(), seed=5)
    rig = SceneRig(scene)
    with session_log(tmp_path / "a.log", rig.clock) as (out, state):
        assert Sequencer(steps, state, rig, out, StopRequest()).run().complete
    timing = Timing(show_s=0.0, move_s=MOVE_S, reading_s=0.25)
    assert estimate(steps, timing, plan, manual_moves=False).minimum_s == pytest.approx(scene.now_s, rel=0.10)
