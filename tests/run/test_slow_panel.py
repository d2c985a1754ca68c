"""Slow panels through the sequencer with its reference checks: they settle as adaptive steps do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchd.clock import StopRequest
from benchd.errors import LightChanged
from benchd.run.adaptive.learned import Learned, Limits
from benchd.run.adaptive.precise_step import Precise
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Record
from benchd.run.plausible import Bounds
from benchd.run.rig import Event, Outcome
from benchd.run.sequencer import Sequencer
from sim.displays import MODELS, Display
from sim.scene import Scene
from sim.sensor import SensorModel
from tests.plan.helpers import steps_from
from tests.run.scene_rig import SceneRig, session_log

PLAN = """plan: p
target: srgb
warm_up: none
repeatability: 0.5 %
reading_time_at_most_s: 30
order: there_and_back
blocks:
  - luminance: {}
  - grayscale: {steps: 3}
"""


def session(log: Path, scene: Scene, *, stop_at: int = 0) -> Outcome:
    """A run on that scene, or the next session of one; ``stop_at``: the step (from 1) at which the operator stops."""
    rig, stop = SceneRig(scene), StopRequest()
    steps = steps_from(PLAN)
    floor = scene.sensor.floor_cd_m2
    bounds = Bounds(floor, scene.sensor.ceiling_cd_m2)

    def watch(event: Event) -> None:
        if event.kind == "step" and event.index == stop_at:
            stop.set("the operator")

    with session_log(log, rig.clock) as (out, state):
        precise = Precise(steps, state, Learned(Limits(floor_cd_m2=floor)))
        return Sequencer(steps, state, rig, out, stop, bounds=bounds, adaptive=precise, watch=watch).run()


def scene_of(share: float, tau_s: float) -> Scene:
    model = replace(MODELS["office-lcd"], slow_share=share, slow_tau_s=tau_s)
    return Scene(Display(model), SensorModel(), seed=5, noise="sequence")


def checks(log: Path) -> list[Record]:
    return [record for record in LogFile(log).records() if record.kind == "checked"]


def faults(log: Path) -> list[str]:
    return [str(record.body["text"]) for record in LogFile(log).records() if record.kind == "fault"]


@pytest.mark.parametrize(("share", "tau_s"), [(0.03, 1.2), (0.10, 3.0), (0.02, 12.0)])
def test_a_slow_panel_completes_and_resumes(tmp_path: Path, share: float, tau_s: float) -> None:
    """What 3 % of a step with 1.2 s leave after the plan's settling time is as bright as black."""
    log = tmp_path / "a.log"
    scene = scene_of(share, tau_s)
    assert session(log, scene, stop_at=4).asked
    assert not faults(log)
    before = checks(log)
    outcome = session(log, scene)
    assert outcome.complete, outcome.why
    assert not faults(log)
    assert len(checks(log)) > len(before), "at the resume, and before the end"
    for record in checks(log):
        assert record.body["reference_checks"]["dark"]["luminance_cd_m2"] == pytest.approx(350.0 / 1100.0, rel=0.03)


def test_a_lamp_on_a_slow_panel_is_seen(tmp_path: Path) -> None:
    log = tmp_path / "a.log"
    scene = scene_of(0.03, 1.2)
    assert session(log, scene, stop_at=4).asked
    scene.room = scene.room.after("lamp", "5")
    outcome = session(log, scene)
    assert not outcome.complete
    assert "a light was switched on" in outcome.why
    assert all(
        record.body["error"] == LightChanged.__name__ for record in LogFile(log).records() if record.kind == "fault"
    )
