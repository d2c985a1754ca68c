"""What a warm-up teaches: it reaches the log's ``done``, costs the warm-up no time, and the patches after it none."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import pytest

from benchd.clock import Deadline
from benchd.instruments.meter import Reading, ReadRequest
from benchd.patch.model import Patch
from benchd.plan.plan import WarmUpLimits
from benchd.profile.display import Expected
from benchd.profile.timing import Timing
from benchd.run.adaptive.expected_time import expected_seconds
from benchd.run.adaptive.learned import Limits, NoiseSample
from benchd.run.adaptive.warm_up_characterisation import MIN_MINUTES, PARTS, characterise, is_characterisation
from benchd.run.log.records import CONSECUTIVE, Record
from benchd.run.procedures.warm_up_stability import PAIRS
from sim.displays import MODELS, Display
from sim.scene import MOVE_S, Scene
from sim.sensor import SensorModel
from tests.plan.helpers import steps_from
from tests.run.kill_anywhere import none_differs
from tests.run.scene_rig import SceneRig, read_precisely
from tests.run.test_precise import PLAN, SLOW, SMALL

WARM_UP = WarmUpLimits(12.0, 12.0, until_stable=False)
WARM_PLAN = PLAN.format(asked=0.5).replace("warm_up: none", "warm_up: {minutes: 12}")


def warmed(path: Path, *, warm: bool = True) -> tuple[list[Record], float]:
    """The log of a run with a warm-up, and how long the steps after it took."""
    scene = Scene(Display(MODELS["office-lcd"]), SensorModel(), seed=5, noise="sequence", warm=warm)
    steps = steps_from(WARM_PLAN)
    records = read_precisely(path, scene, steps, WARM_UP)
    ended = next(record for record in records if record.kind == "done" and record.step == CONSECUTIVE)
    return records, scene.now_s - ended.mono_ns / 1e9


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Record], float]:
    return warmed(tmp_path_factory.mktemp("lessons") / "a.log")


def test_the_warm_up_takes_as_long_as_it_would(run: tuple[list[Record], float]) -> None:
    readings = [record for record in run[0] if record.kind == "reading" and record.step == "warm-up"]
    assert len(readings) == 13 + 2 * PAIRS, "one a minute, pairs in the last; what is taught is no reading of it"
    seconds = [(b.mono_ns - a.mono_ns) / 1e9 for a, b in pairwise(readings)]
    assert max(seconds) == pytest.approx(60.0, abs=3.0)
    assert (readings[-1].mono_ns - readings[0].mono_ns) / 1e9 == pytest.approx(12 * 60.0, abs=12.0)


def test_what_was_taught_is_in_the_log(run: tuple[list[Record], float]) -> None:
    done = next(record for record in run[0] if record.kind == "done")
    lessons = done.body["precision"]["lessons"]
    assert len(lessons) == (11 - MIN_MINUTES) * (len(PARTS) + 1)


def test_after_it_no_patch_is_watched(run: tuple[list[Record], float]) -> None:
    how = [record.body["how"] for record in run[0] if record.kind == "settled"]
    assert how.count("expected") >= 0.9 * len(how)


def test_the_drift_of_a_display_that_warms_up_is_taken_for_no_tail(
    run: tuple[list[Record], float], tmp_path: Path
) -> None:
    records, took_s = warmed(tmp_path / "cold.log", warm=False)
    assert took_s <= 1.15 * run[1]
    lessons = next(record for record in records if record.kind == "done").body["precision"]["lessons"]
    assert not any(one["settling"]["bins"] for one in lessons[: len(PARTS) + 1]), "nothing yet to see the drift by"
    assert all(one["settling"]["bins"] for one in lessons[len(PARTS) + 1 :][: len(PARTS)])


def test_light_that_still_moves_is_no_noise(tmp_path: Path) -> None:
    """A panel whose last 6 % come with 0.4 s: what its warm-up says of the meter is the meter's noise alone."""
    scene = Scene(Display(SLOW), SMALL, seed=6, noise="sequence")
    rig = SceneRig(scene)
    grey = next(one.patch for one in steps_from(WARM_PLAN))

    def read(length_s: float) -> Reading:
        return rig.meter.read(ReadRequest("x", 0, length_s), Deadline.after(10.0))

    def show(patch: Patch) -> None:
        rig.screen.show(patch, Deadline.after(10.0))

    seen = [
        NoiseSample(*found)
        for _ in range(4)
        for one in characterise(grey, 80.0, show, read, Limits())
        for found in one.get("scatter", ())
    ]
    assert len(seen) >= 12
    for one in seen:
        true = SMALL.repeatability_cd_m2(one.luminance_cd_m2, 1.0) ** 2
        assert one.per_second < true * (1.0 + 4.0 * math.sqrt(2.0 / one.dof))


def test_the_estimate_knows_of_it(run: tuple[list[Record], float]) -> None:
    steps = steps_from(WARM_PLAN)
    expected = Expected(white_cd_m2=350, black_cd_m2=0.32, rise_tau_s=0.012)
    timing = Timing(show_s=0.0, move_s=MOVE_S)
    found = expected_seconds(steps, expected, timing, Limits(floor_cd_m2=SensorModel().floor_cd_m2))
    moves = sum(a.at != b.at for a, b in pairwise(steps))
    assert sum(found.values()) + moves * MOVE_S == pytest.approx(run[1], rel=0.10)


def test_lessons_are_the_last_minutes_that_are_sure_to_come_but_one() -> None:
    assert [minute for minute in range(61) if is_characterisation(minute, WarmUpLimits(20, 60, True))] == list(
        range(MIN_MINUTES, 19)
    )
    assert not any(is_characterisation(minute, WarmUpLimits(2, 2, False)) for minute in range(3))


def test_a_kill_during_or_after_the_lessons_changes_no_result(tmp_path: Path) -> None:
    plan = tmp_path / "p.yaml"
    plan.write_text(WARM_PLAN.replace("3x3", "2x1").replace("steps: 11", "steps: 4"))
    for first, last in ((8, 9), (16, 18)):
        none_differs(plan, first, last)
