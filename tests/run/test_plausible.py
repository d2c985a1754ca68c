"""A changed light is known: the rules alone, then in the loop, then that well-behaved displays raise no alarm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchd.analysis.log.log_data import collect
from benchd.clock import StopRequest
from benchd.errors import BenchdError, Implausible, LightChanged, OperatorNeeded
from benchd.instruments.meter import Reading, ReadRequest, Status
from benchd.patch.model import Patch, grey
from benchd.plan.step import CENTRE, Step
from benchd.run.job import plan_job
from benchd.run.log.records import Record, fold
from benchd.run.log.replay_log import script_of
from benchd.run.plausible import CHECK_EVERY_S, Bounds, Extremes, fault_in, has_jumped, level_at_meter, reference_of
from benchd.run.sequencer import Sequencer
from sim.inprocess import scene_of
from tests.run.kill_anywhere import started
from tests.run.rig import ScriptedControl, ScriptedRig, run, step
from tests.run.scene_rig import SceneRig, session_log

BOUNDS = Bounds(0.005, 3000.0)
WHITE_CD_M2, BLACK_CD_M2 = 350.0, 0.3


def reading(luminance: float, status: Status = Status.OK) -> Reading:
    return Reading((luminance, luminance, luminance), status, 0.2, "raw", 0.2)


def found(step: Step, *luminances: float, seen: Extremes) -> object:
    return type(fault_in(step, [reading(one) for one in luminances], {(): seen}, BOUNDS))


def test_the_code_in_front_of_the_meter_counts() -> None:
    assert level_at_meter(step("white")) == pytest.approx(1.0)
    assert level_at_meter(step("black", 0)) == 0.0
    board = Patch("checkerboard", grey(255))
    at = [Step("c", "b", "readings", board, {}, "c", (x, 0.125)) for x in (0.125, 0.375)]
    assert [level_at_meter(one) > 0.5 for one in at] == [True, False]
    assert [reference_of(step("a", code)) for code in (255, 128, 100, 0)] == ["bright", "bright", None, "dark"]
    assert reference_of(at[0]) is None, "only a full field is an anchor"


@pytest.mark.parametrize(
    ("one", "luminances", "seen", "kind"),
    [
        (step("white"), (350.0, 351.0), Extremes(), type(None)),
        (step("black", 0), (0.0, 0.0), Extremes(), type(None)),  # an emissive panel's black
        (step("white"), (0.02, 0.02), Extremes(), LightChanged),  # asleep
        (step("white"), (12.0, 12.0), Extremes(dark_cd_m2=12.0, dark_step="black"), LightChanged),  # beside the screen
        (step("black", 0), (12.0, 12.0), Extremes(bright_cd_m2=12.0, bright_step="white"), LightChanged),
        (step("white"), (90.0, 90.0), Extremes(dark_cd_m2=20.0, dark_step="black"), type(None)),  # a bright room
        (step("white"), (350.0, 200.0), Extremes(), Implausible),
        (step("black", 0), (0.3, 5.3), Extremes(), Implausible),
        (step("black", 0), (0.006, 0.02), Extremes(), type(None)),  # noise near the floor
    ],
)
def test_the_rules(one: Step, luminances: Sequence[float], seen: Extremes, kind: type) -> None:
    assert found(one, *luminances, seen=seen) is kind


def test_statuses_that_contradict_the_other_readings() -> None:
    for status in (Status.UNDER, Status.OVER):
        error = fault_in(step("white"), [reading(350.0), reading(0.0, status)], {}, BOUNDS)
        assert isinstance(error, Implausible), status
    assert fault_in(step("white"), [reading(2990.0), reading(3000.0, Status.OVER)], {}, BOUNDS) is None
    assert fault_in(step("black", 0), [reading(0.006), reading(0.0, Status.UNDER)], {}, BOUNDS) is None


def test_a_jump_is_more_than_drift() -> None:
    assert not has_jumped("bright", 350.0, 350.0 * 1.04, BOUNDS)
    assert has_jumped("bright", 350.0, 350.0 * 0.94, BOUNDS)
    assert not has_jumped("dark", 0.3, 0.33, BOUNDS)
    assert has_jumped("dark", 0.3, 0.36, BOUNDS)
    assert not has_jumped("dark", 0.0005, 0.009, BOUNDS), "below the meter's range nothing is a jump"


class World:
    """The light at the meter, by code; a lamp and a place beside the screen."""

    def __init__(self) -> None:
        self.lamp = 0.0
        self.aside: float | None = None
        self.rig = ScriptedRig()
        self.rig.meter.luminance = self.luminance
        self.at_reading: dict[int, Any] = {}
        self.rig.meter.before = lambda call: self.at_reading.get(call, lambda: None)()

    def luminance(self, request: ReadRequest) -> float:
        if self.aside is not None:
            return self.aside
        [*_, (_, patch)] = self.rig.screen.shown
        return BLACK_CD_M2 + WHITE_CD_M2 * float((patch.code[1] / 255) ** 2.2) + self.lamp

    def set(self, **values: float | None) -> None:
        for name, value in values.items():
            setattr(self, name, value)


STEPS = [step("white"), step("black", 0), step("grey", 128), step("dim", 40)]
READINGS = 3 * len(STEPS)


def values(records: Sequence[Record]) -> dict[str, float]:
    return {name: measured.mean[1] for name, measured in collect(records).measured.items() if measured.mean}


def log_of(tmp_path: Path, world: World, steps: Sequence[Step] = STEPS) -> tuple[bool, list[Record], str]:
    outcome, records = run(tmp_path / "run.log", steps, world.rig, bounds=BOUNDS)
    return outcome.complete, records, outcome.why


def test_a_quiet_run_is_checked_once_at_its_end(tmp_path: Path) -> None:
    complete, records, _ = log_of(tmp_path, World())
    assert complete
    [check] = [record for record in records if record.kind == "checked"]
    assert {name: one["step"] for name, one in check.body["reference_checks"].items()} == {
        "bright": "white",
        "dark": "black",
    }
    assert check.body["steps"] == len(STEPS)
    assert records[-1].body["readings"] == READINGS, "a check adds nothing to the readings of the steps"


def test_a_lamp_switched_on_pauses_and_all_since_is_measured_again(tmp_path: Path) -> None:
    right = World()
    _, records, _ = log_of(tmp_path / "right", right)
    wanted = values(records)
    world = World()
    world.at_reading = {8: lambda: world.set(lamp=2.0)}
    complete, records, why = log_of(tmp_path, world)
    assert not complete
    assert "dark patch of black reads 2.3 cd/m2 where it read 0.3" in why
    assert not fold(records).done, "nothing is confirmed, so nothing stands"
    assert values(records) == {}
    assert script_of(records).steps == {}
    world.set(lamp=0.0)
    complete, records, _ = log_of(tmp_path, world)
    assert complete
    assert values(records) == wanted


def test_a_lamp_that_goes_off_again_costs_a_second_measurement_only(tmp_path: Path) -> None:
    world = World()
    # The lamp is on from the second step's end until the first look at the anchors is over.
    world.at_reading = {7: lambda: world.set(lamp=2.0), READINGS + 7: lambda: world.set(lamp=0.0)}
    complete, records, _ = log_of(tmp_path, world)
    assert complete
    assert [record.body["error"] for record in records if record.kind == "fault"] == ["LightChanged"]
    assert values(records)["dim"] == pytest.approx(BLACK_CD_M2 + WHITE_CD_M2 * (40 / 255) ** 2.2)
    assert records[-1].body["readings"] == READINGS


def test_what_a_check_has_confirmed_is_not_measured_again(tmp_path: Path) -> None:
    world = World()
    many = [*STEPS, step("wait", 128, settle_s=CHECK_EVERY_S), step("late", 60), step("later", 50)]
    # After the check that the wait brings about: 5 steps and the two anchors.
    world.at_reading = {3 * 5 + 6 + 1: lambda: world.set(aside=12.0)}
    complete, records, _ = log_of(tmp_path, world, many)
    assert not complete
    assert set(fold(records).done) == {"white", "black", "grey", "dim", "wait"}
    world.set(aside=None)
    complete, records, _ = log_of(tmp_path, world, many)
    assert complete
    assert records[-1].kind == "ended"


def test_a_light_that_stays_another_pauses_again(tmp_path: Path) -> None:
    world = World()
    many = [*STEPS, step("wait", 128, settle_s=CHECK_EVERY_S), step("late", 60)]
    world.at_reading = {3 * 5 + 6 + 1: lambda: world.set(lamp=2.0)}
    assert not log_of(tmp_path, world, many)[0]
    complete, _, why = log_of(tmp_path, world, many)
    assert not complete, "the first half was measured in another light"
    assert "start a new run" in why


def test_a_meter_beside_the_screen_is_known_by_the_next_contrast(tmp_path: Path) -> None:
    world = World()
    world.at_reading = {1: lambda: world.set(aside=12.0)}
    complete, records, why = log_of(tmp_path, world)
    assert not complete
    assert "do not follow the screen" in why
    assert records[-1].kind == "paused"


def test_a_killed_session_leaves_its_anchors_to_the_next(tmp_path: Path) -> None:
    world = World()
    world.at_reading = {8: lambda: stop.set("a test")}
    stop = StopRequest()
    run(tmp_path / "run.log", STEPS, world.rig, bounds=BOUNDS, stop=stop)
    world.set(lamp=2.0)
    complete, records, why = log_of(tmp_path, world)
    assert not complete
    assert "where it read 0.3" in why
    assert not fold(records).done


def test_a_hand_is_never_asked_for_a_check(tmp_path: Path) -> None:
    world = World()
    world.rig.positioner.by = "operator"
    corner = step("corner", at=(0.1, 0.1))
    complete, records, _ = log_of(tmp_path, world, [*STEPS, corner])
    assert complete
    kinds = [record.kind for record in records]
    assert kinds.count("checked") == 1
    assert kinds.index("checked") < kinds.index("moved"), "the check is made before the meter leaves"
    assert world.rig.positioner.moves == ["corner"]
    assert corner.at != CENTRE


def test_a_sweep_by_hand_that_nobody_attends_gets_on_with_every_resume(tmp_path: Path) -> None:
    steps = [
        replace(one, id=f"dimming={value}/{one.id}", settings=(("dimming", value),))
        for value in (0, 1, 2)
        for one in STEPS
    ]
    asked: list[str] = []
    while len(asked) <= 3:
        world = World()
        nobody: dict[int, BenchdError] = dict.fromkeys(range(1, 9), OperatorNeeded("Set it; this run can't prompt"))
        world.rig.controls["dimming"] = ScriptedControl("dimming", 0, by="operator", failures=nobody)
        outcome, records = run(tmp_path / "run.log", steps, world.rig, bounds=BOUNDS)
        if outcome.complete:
            break
        asked.append(outcome.set_to)
    assert asked == ["dimming=0", "dimming=1", "dimming=2"], "and never back for a look at the anchors"
    assert fold(records).ended
    assert len(fold(records).done) == len(steps)


@pytest.mark.parametrize("display", ["office-lcd", "wide-gamut-lcd", "emissive"])
@pytest.mark.parametrize("seed", [1, 2])
def test_no_false_alarm_over_a_whole_plan(tmp_path: Path, display: str, seed: int) -> None:
    job = plan_job("sdr-standard")
    rig = SceneRig(scene_of(display, seed=seed, noise="sequence", drift_percent=0.5))
    identity, warm_up = rig.meter.identify(), job.plan.warm_up.limits
    bounds = Bounds(identity.floor_cd_m2, identity.ceiling_cd_m2)
    with session_log(tmp_path / "run.log", rig.clock, started(job, rig)) as (out, state):
        assert Sequencer(job.steps, state, rig, out, StopRequest(), warm_up, bounds=bounds).run().complete
    assert state.faults == 0


def test_after_a_contradiction_nothing_counts_before_the_anchors_were_looked_at(tmp_path: Path) -> None:
    """Else a step that was tried again in the wrong light is confirmed by a resume that finds the light well."""
    world, stop = World(), StopRequest()
    steps = [*STEPS[:3], step("dark-again", 1), step("bright-again", 250)]
    # Readings 10 to 12 contradict; three more would make a step done, or are a look at the first anchor.
    world.at_reading = {10: lambda: world.set(aside=100.0), 16: lambda: stop.set("a test")}
    _, records = run(tmp_path / "run.log", steps, world.rig, bounds=BOUNDS, stop=stop)
    assert [record.body["error"] for record in records if record.kind == "fault"] == ["LightChanged"]
    assert not fold(records).done
    world.set(aside=None)
    complete, records, _ = log_of(tmp_path, world, steps)
    assert complete
    assert values(records)["bright-again"] == pytest.approx(BLACK_CD_M2 + WHITE_CD_M2 * (250 / 255) ** 2.2)


def test_a_light_that_comes_and_goes_three_times_ends_in_a_pause(tmp_path: Path) -> None:
    world = World()
    world.rig.meter.luminance = lambda request: (
        world.luminance(request) if request.step == "check" else 0.01 if request.step == "grey" else 350.0
    )
    complete, records, why = log_of(tmp_path, world, [step("white"), step("grey", 128), step("dim", 40)])
    assert not complete
    assert [record.body["then"] for record in records if record.kind == "fault"] == ["again", "again", "pause"]
    assert "look whether the meter is on the screen" in why
