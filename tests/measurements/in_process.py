"""A run on a simulated bench within this process, for examples of every kind of measurement."""

from __future__ import annotations

from pathlib import Path

from benchd.clock import StopRequest
from benchd.run.job import PlanJob, bench_job
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.inprocess import SimControls, scene_of
from tests.run.scene_rig import SceneRig, session_log


def session(job: PlanJob, log: Path) -> None:
    """Run the plan to its end."""
    bench, display = ("sim-office", "office-lcd") if job.plan.signal is None else ("sim-hdr-lcd", "hdr-lcd")
    scene = scene_of(display)
    rig = SceneRig(scene, bits=job.plan.bits, controls=SimControls(scene))
    body = started_body(job, bench_job(bench), "example/1", "", rig.identities())
    with session_log(log, rig.clock, body) as (out, state):
        outcome = Sequencer(job.steps, state, rig, out, StopRequest()).run()
    assert outcome.complete, outcome.why
