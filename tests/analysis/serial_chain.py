"""Whole runs whose readings hang together: plan, warm-up, sequencer, log. SIMULATED."""

from __future__ import annotations

import os
from pathlib import Path

from benchd.analysis.analyse import analyse
from benchd.clock import StopRequest
from benchd.instruments.meter import Reading, ReadRequest, Status
from benchd.plan.plan import WarmUpLimits
from benchd.report.data.document import quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.run.job import PlanJob, bench_job, plan_job_from
from benchd.run.log.journal import Journal, LogFile
from benchd.run.log.records import RunState, advance
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.displays import OFFICE_LCD, Display
from sim.inprocess import SimMeter
from sim.scene import Scene
from sim.sensor import SensorModel
from tests.run.scene_rig import SceneRig

PLAN = """\
plan: serial
target: power-2.2
warm_up: {minutes: 1}
settle_s: 1
integration_s: 0.2
dark_integration_s: 0.2
readings: 5
dark_readings: 5
look_again: false
blocks:
  - luminance: {}
  - grayscale: {steps: 11}
  - uniformity: {grid: 3x3, levels_percent: [100]}
"""
AR_EVERY_S = 0.2
"""The time of one reading, after which the correlation is rho."""


class ExactMeter(SimMeter):
    """Sends all digits."""

    def read(self, request: ReadRequest, deadline: object) -> Reading:
        taken = self._scene.take(request.integration_s)
        return Reading(taken.xyz, Status(taken.status), taken.integration_s, "", 0.0)


def measured(path: Path, seed: int, correlation_s: float) -> Path:
    """The log of one run."""
    scene = Scene(Display(OFFICE_LCD), SensorModel(), seed=seed, noise="sequence", noise_correlation_s=correlation_s)
    return _run(path, scene, SimMeter(scene))


def truth(path: Path) -> dict[str, float]:
    """What a meter without noise makes of the same display, by path."""
    scene = Scene(Display(OFFICE_LCD), SensorModel(), noise="none")
    document = to_json(analyse(LogFile(_run(path, scene, ExactMeter(scene))).records()), LogReference("true", ""))
    return {name: figure["value"] for name, figure in quantities(document) if figure["value"] is not None}


def _run(path: Path, scene: Scene, meter: SimMeter) -> Path:
    rig = SceneRig(scene, meter=meter)
    job: PlanJob = plan_job_from("serial", PLAN, {})
    head = {**started_body(job, bench_job("sim-office"), "serial", "", rig.identities()), "uncertainty": None}
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_APPEND, 0o644)
    out, state = Journal(path, descriptor, "serial", rig.clock, 0, 0, sync=lambda descriptor: None), RunState()
    try:
        advance(state, out.append("started", body=head))
        limits = WarmUpLimits(1, 1, False)
        assert Sequencer(job.steps, state, rig, out, StopRequest(), limits).run().complete
    finally:
        out.close()
    return path
