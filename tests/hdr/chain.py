"""An HDR plan on a simulated HDR display, the whole chain in one process: plan -> steps -> log -> results."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.clock import StopRequest
from benchd.report.data.document import to_json
from benchd.report.data.log_reference import LogReference
from benchd.run.job import PlanJob, plan_job
from benchd.run.log import journal
from benchd.run.log.journal import LogFile
from benchd.run.log.records import RunState, advance
from benchd.run.sequencer import Sequencer
from sim.inprocess import SceneClock, SimMeter, SimPositioner, SimScreen, scene_of
from sim.sensor import NoiseMode
from tests.run.kill_anywhere import started

BITS = 10


class Rig:
    """A freshly started simulated bench with a frame buffer of ten bits."""

    def __init__(self, display: str, noise: NoiseMode = "per-patch", bits: int = BITS) -> None:
        scene = scene_of(display, noise=noise)
        self.clock = SceneClock(scene)
        self.screen = SimScreen(scene, bits=bits)
        self.meter = SimMeter(scene)
        self.positioner = SimPositioner(scene)
        self.controls: dict[str, Any] = {}

    def reopen_meter(self) -> None:
        """Always there."""

    def reopen_screen(self) -> None:
        """Always there."""


def job_of(text: str) -> PlanJob:
    """A plan from its text."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.yaml"
        path.write_text(text)
        return plan_job(str(path))


def session(job: PlanJob, display: str, log: Path, *, noise: NoiseMode = "per-patch", stop_at: int = 0) -> bool:
    """One session of a run; it pauses after the record ``stop_at``. True when the run is complete."""
    rig, stop = Rig(display, noise), StopRequest()
    if log.exists():
        out, state, _ = journal.reopen(log, rig.clock, "next")
        advance(state, out.append("resumed"))
    else:
        out, state = journal.create(log, rig.clock, "first"), RunState()
        advance(state, out.append("started", body=started(job, rig)))  # type: ignore[arg-type]
    count = 0

    def watch(event: object) -> None:
        nonlocal count
        count += 1
        if count == stop_at:
            stop.set("the test")

    sequencer = Sequencer(job.steps, state, rig, out, stop, job.plan.warm_up.limits, watch=watch)  # type: ignore[arg-type]
    outcome = sequencer.run()
    out.close()
    return outcome.complete


def results(log: Path) -> dict[str, Any]:
    """Results of a log as JSON."""
    file = LogFile(log)
    return to_json(analyse(file.records()), LogReference("the log", "0" * 64))
