"""An HDR plan on a simulated HDR display, the whole chain in one process: plan -> steps -> log -> results."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from benchd.clock import StopRequest
from benchd.report.data import LogReference, to_json
from benchd.analysis.analyse import analyse
from benchd.plan import library
from benchd.run import journal
from benchd.run.job import PlanJob, plan_job
from benchd.run.journal import LogFile
from benchd.run.records import RunState, advance
from benchd.run.sequencer import Sequencer
from sim.inprocess import SimScreen
from sim.sensor import NoiseMode
from tests.run import kill_anywhere


class Rig(kill_anywhere.Rig):
    """As the others', with a frame buffer of ten bits."""

    def __init__(self, display: str, noise: NoiseMode = "per-patch") -> None:
        super().__init__(display)
        scene = self.scene
        scene._noise.mode = noise
        self.screen = SimScreen(scene, bits=10)


def job_of(text: str) -> PlanJob:
    """A plan from its text."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.yaml"
        path.write_text(text)
        return plan_job(str(path))


def measured(plan: str | PlanJob, display: str, log: Path, noise: NoiseMode = "per-patch") -> dict[str, Any]:
    """Results of a whole run as JSON."""
    job = job_of(plan) if isinstance(plan, str) else plan
    rig = Rig(display, noise)
    out, state = journal.create(log, rig.clock, "first"), RunState()
    advance(state, out.append("started", body=kill_anywhere.started(job, rig)))
    outcome = Sequencer(job.steps, state, rig, out, StopRequest(), job.plan.warm_up.limits).run()
    out.close()
    assert outcome.complete, outcome.why
    file = LogFile(log)
    return to_json(analyse(file.records()), LogReference(str(log), file.sha256))


__all__ = ["Rig", "job_of", "library", "measured"]
