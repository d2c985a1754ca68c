"""An HDR plan on a simulated HDR display, the whole chain in one process: plan -> steps -> log -> results."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.clock import StopRequest
from benchd.report.data.document import to_json
from benchd.report.data.log_reference import LogReference
from benchd.run.job import PlanJob, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.sequencer import Sequencer
from sim.inprocess import scene_of
from sim.sensor import NoiseMode
from tests.run.kill_anywhere import started
from tests.run.scene_rig import SceneRig, session_log

BITS = 10


def job_of(text: str) -> PlanJob:
    """A plan from its text."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.yaml"
        path.write_text(text)
        return plan_job(str(path))


def session(job: PlanJob, display: str, log: Path, *, noise: NoiseMode = "per-patch", stop_at: int = 0) -> bool:
    """One session of a run; it pauses after the record ``stop_at``. True when the run is complete."""
    rig, stop = SceneRig(scene_of(display, noise=noise), bits=BITS), StopRequest()
    count = 0

    def watch(event: object) -> None:
        nonlocal count
        count += 1
        if count == stop_at:
            stop.set("the test")

    with session_log(log, rig.clock, started(job, rig)) as (out, state):
        return Sequencer(job.steps, state, rig, out, stop, job.plan.warm_up.limits, watch=watch).run().complete


def measured(plan: str, display: str, folder: Path) -> Results:
    """What a whole run of a plan, by its text, comes to; its log is left in ``folder``."""
    assert session(job_of(plan), display, folder / "run.log")
    return analyse(LogFile(folder / "run.log").records())


def results(log: Path) -> dict[str, Any]:
    """Results of a log as JSON."""
    file = LogFile(log)
    return to_json(analyse(file.records()), LogReference("the log", "0" * 64))
