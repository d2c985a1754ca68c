"""A run on a simulated bench within this process, for examples of every kind of measurement."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from benchd.clock import StopRequest
from benchd.run.job import PlanJob, bench_job
from benchd.run.log import journal
from benchd.run.log.records import RunState, advance
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.inprocess import SceneClock, SimControls, SimMeter, SimPositioner, SimScreen, scene_of


class Rig:
    """A freshly started simulated bench."""

    def __init__(self, display: str, bits: int) -> None:
        scene = scene_of(display)
        self.clock = SceneClock(scene)
        self.screen = SimScreen(scene, bits=bits)
        self.meter = SimMeter(scene)
        self.positioner = SimPositioner(scene)
        self.controls = SimControls(scene)

    def reopen_meter(self) -> None:
        """Always there."""

    def reopen_screen(self) -> None:
        """Always there."""


def session(job: PlanJob, log: Path) -> None:
    """Run the plan to its end."""
    bench, display = ("sim-office", "office-lcd") if job.plan.signal is None else ("sim-hdr-lcd", "hdr-lcd")
    rig = Rig(display, job.plan.bits)
    who = {"meter": asdict(rig.meter.identify()), "screen": asdict(rig.screen.identify()), "simulated": True}
    out, state = journal.create(log, rig.clock, "first"), RunState()
    advance(state, out.append("started", body=started_body(job, bench_job(bench), "example/1", "", who)))
    outcome = Sequencer(job.steps, state, rig, out, StopRequest()).run()
    out.close()
    assert outcome.complete, outcome.why
