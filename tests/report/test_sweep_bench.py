"""A sweep on the simulated bench, from the plan to the table: held against the truth of the simulated display."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.clock import StopRequest
from benchd.patch.model import field, grey
from benchd.plan.estimate import estimate
from benchd.report.terminal.results_text import render_text
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.faults import FaultSchedule, parse_trouble
from sim.inprocess import SimControls, scene_of
from sim.scene import Scene
from sim.truth import truth_of
from tests.run.scene_rig import SceneRig, session_log

PLAN = """\
plan: swept
warm_up: none
reference: {every_min: 0.5}
sweep:
  - {control: preset, values: [standard, warm]}
  - {control: brightness, values: [100, 50, 0]}
blocks:
  - luminance: {}
  - grayscale: {steps: 21, only: [{brightness: 100}]}
"""


def measured(folder: Path, *faults: str) -> tuple[Results, Scene]:
    plan = folder / "swept.yaml"
    plan.write_text(PLAN, encoding="utf-8")
    job, bench = plan_job(str(plan)), bench_job("sim-office")
    scene = scene_of()
    troubles = FaultSchedule(tuple(parse_trouble(fault) for fault in faults))
    rig = SceneRig(scene, controls=SimControls(scene, troubles))
    path = folder / "swept.log"
    with session_log(path, rig.clock, started_body(job, bench, "plover-27/1", "", rig.identities())) as (out, state):
        assert Sequencer(job.steps, state, rig, out, StopRequest()).run().complete
    return analyse(LogFile(path).records()), scene


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> tuple[Results, Scene]:
    return measured(tmp_path_factory.mktemp("calm"))


def test_every_white_is_the_truth_and_so_is_its_range(calm: tuple[Results, Scene]) -> None:
    results, scene = calm
    sweep = results.sweep
    assert sweep is not None
    assert [tuple(row.settings.values()) for row in sweep.rows] == [
        (preset, value) for preset in ("standard", "warm") for value in (0, 50, 100)
    ]
    for row in sweep.rows:
        settings = scene.settings
        for name, value in row.settings.items():
            settings = settings.but(f"{name}={value}")
        scene.set(settings)
        white, black = truth_of(scene, field(grey(255))), truth_of(scene, field(grey(0)))
        assert row.figures["white luminance"].quantity.value == pytest.approx(white[1], rel=0.004)
        assert row.figures["contrast"].quantity.value == pytest.approx(white[1] / black[1], rel=0.03)
        assert row.figures["white x"].quantity.value == pytest.approx(white[0] / sum(white), abs=0.001)
        assert (row.faults, row.set_manually, row.not_read_back) == (0, (), ())
        assert ("gamma" in row.figures) == (row.settings["brightness"] == 100)
    warm = next(row for row in sweep.rows if row.settings == {"preset": "warm", "brightness": 100})
    # CIE daylight of 5000 K (CIE 15:2018): that is what the invented preset aims at.
    assert warm.figures["white CCT"].quantity.value == pytest.approx(5000, abs=25)
    assert [(one.minimum_at, one.maximum_at) for one in sweep.ranges] == [(0, 100), (0, 100)]


def test_a_display_at_rest_does_not_drift(calm: tuple[Results, Scene]) -> None:
    results, _ = calm
    assert [one.settings["brightness"] for one in results.drift] == [100, 50, 0, 0, 50, 100]
    for one in results.drift:
        # At the begin of each point, at intervals, and at its end, so that all between can be compensated.
        assert len(one.readings) >= 2
        assert abs(one.maximum_change.value or 0.0) < 0.3
        assert one.readings[-1].minutes > 0.15
    assert max(len(one.readings) for one in results.drift) > 2
    for done in results.compensation:
        assert not done.maximum.value, "nothing is taken out where nothing drifts"


def test_the_text_says_simulated_and_answers_what_was_asked(calm: tuple[Results, Scene]) -> None:
    text = render_text(calm[0])
    assert text.startswith("SIMULATED")
    figure = r"[\d.]+ +[\d.]+"
    assert re.search(rf"brightness, 3 points +preset=warm +{figure} +0 +{figure} +100", text)


def test_a_display_that_lies_once_is_seen_at_its_point(tmp_path: Path) -> None:
    results, _ = measured(tmp_path, "set:2:lie")
    sweep = results.sweep
    assert sweep is not None
    assert sum(row.control_faults for row in sweep.rows) == results.faults == 1
    assert "faults of the display's controls" in render_text(results)
    assert results.absent == ()


@pytest.mark.parametrize(
    ("name", "points", "minimum_h", "maximum_h"), [("sweep-night", 33, 7.5, 8.5), ("brightness-sweep", 11, 0.3, 1.2)]
)
def test_the_shipped_sweeps_take_what_they_say(name: str, points: int, minimum_h: float, maximum_h: float) -> None:
    job, bench = plan_job(name), bench_job("sim-office")
    assert len({step.settings for step in job.steps if step.settings}) == points
    took = estimate(job.steps, bench.bench.timing, job.plan, manual_moves=False)
    assert minimum_h <= took.minimum_s / 3600 <= took.maximum_s / 3600 <= maximum_h
