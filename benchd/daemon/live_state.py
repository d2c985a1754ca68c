"""What has been seen of the running job: the material of a `Snapshot`. Updated by one thread under one lock."""

from __future__ import annotations

from collections import deque
from dataclasses import asdict, replace
from typing import Any, NamedTuple

from benchd.clock import wall_label
from benchd.daemon.job_control import Job, JobState, LatestFault, LatestReading, Snapshot
from benchd.instruments.meter import Reading
from benchd.patch.model import field, grey
from benchd.plan.step import CENTRE, Step
from benchd.plan.time_left import TimeLeft
from benchd.report.terminal.progress import what
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import PlanJob
from benchd.run.log.bodies import spot
from benchd.run.log.records import RunState
from benchd.run.rig import Event

LAST_READINGS = 200
LAST_FAULTS = 50


class Now(NamedTuple):
    """What a service is doing; its names are those of a `Snapshot`."""

    doing: str = "idle"
    why: str = ""
    place: str = ""
    at: tuple[float, float] = CENTRE
    operator: str = ""
    again: str = ""
    awaited: str = ""


class LiveState:
    """Takes events and gives the snapshot of now. Readings and faults stay until the next job begins."""

    def __init__(self, bench: str, simulated: bool) -> None:
        self.number = 1
        self.now = Now()
        self.state = RunState()
        self._bench, self._profile_simulated = bench, simulated
        self.simulated = simulated
        """True when a simulator took part in what is shown, by the profile or by the identity of a part."""
        self._rig: OpenBench | None = None
        self._time: TimeLeft | None = None
        self._step: Step | None = None
        self._began_s, self._count = 0.0, 0
        self._readings: deque[LatestReading] = deque(maxlen=LAST_READINGS)
        self._faults: deque[LatestFault] = deque(maxlen=LAST_FAULTS)

    def be(
        self,
        doing: str,
        why: str = "",
        place: str = "",
        at: tuple[float, float] | None = None,
        operator: str = "",
        again: str = "",
        awaited: str = "",
    ) -> None:
        """Do something else from now on; see `Now`."""
        if (now := Now(doing, why, place, at or CENTRE, operator, again, awaited)) != self.now:
            self.now = now
            self.number += 1

    def changed(self) -> None:
        """Something else of the snapshot, such as the queue, is new."""
        self.number += 1

    def begin(self) -> None:
        """A job is taken up; nothing of it is known yet."""
        self._readings.clear()
        self._faults.clear()
        self.state = RunState()
        self.simulated = self._profile_simulated
        self.be("opening the bench")

    def end(self) -> None:
        """The job has left the bench."""
        self._rig = self._time = self._step = None
        self.number += 1

    def opened(self, bench: OpenBench, job: PlanJob, state: RunState) -> None:
        """The bench is open and the log has begun."""
        self._rig, self.state = bench, state
        self.simulated = bench.simulated
        self._time = bench.time_left(job, state)
        self._began_s = bench.clock.now_s()
        if self.now.doing == "opening the bench":  # else a stop was requested meanwhile
            self.be("running")

    def event(self, event: Event) -> None:
        """One event of the sequencer."""
        self.number += 1
        step = event.step
        if event.kind == "step":
            self._turn_to(step)
        elif event.kind == "fault":
            error = type(event.error).__name__ if event.error else ""
            self._faults.append(LatestFault(wall_label(), step.id, error, str(event.error or event.text), event.then))
        elif event.reading is not None:
            self._count += 1
            self._readings.append(_seen(self._count, step.id, event.reading))
        if event.kind == "skipped" and self._time is not None:
            self._time.left_out(self.state.skipped)
        if event.kind == "warm_up" and self._time is not None and self._rig is not None:
            self._time.warming(self._rig.clock.now_s() - self._began_s)

    def _turn_to(self, step: Step) -> None:
        now_s = self._rig.clock.now_s() if self._rig is not None else 0.0
        if self._step is not None and self._time is not None:
            self._time.finished(self._step.id, now_s - self._began_s)
        self._step, self._began_s = step, now_s

    @property
    def share_done(self) -> float:
        """Of the running job's time, 0 to 1; 0 where none is known."""
        return min(1.0, max(0.0, self._time.share)) if self._time else 0.0

    def running(self, job: Job) -> Job:
        """The running job, as far as it is now."""
        simulated = job.simulated or self.simulated
        done, share = self.state.steps_done or job.steps_done, self.share_done or job.share_done
        return replace(job, state=JobState.RUNNING, steps_done=done, share_done=share, simulated=simulated)

    def snapshot(self, job: Job | None, queue: tuple[Job, ...]) -> Snapshot:
        """Everything at this moment, immutable."""
        time, step = self._time, self._step
        return Snapshot(
            number=self.number,
            wall=wall_label(),
            bench=self._bench,
            simulated=self.simulated,
            job=job,
            step=step.id if step else "",
            what=what(step.labels, step.place) if step else "",
            patch={**self._patch(step), **self._pixels()},
            share_done=job.share_done if job else 0.0,
            left_s=time.minimum_s if time else None,
            left_maximum_s=time.maximum_s if time else None,
            virtual_time=self._rig is not None and self._rig.clock.virtual,
            readings=tuple(self._readings),
            faults=tuple(self._faults),
            queue=queue,
            **self.now._asdict(),
        )

    def _patch(self, step: Step | None) -> dict[str, Any]:
        """What is on the screen: the step's patch, or what the run shows while the operator is awaited.

        That is the spot where to put the meter, and else black. Nothing where a source without a window shows it, of
        which only a requested patch is known.
        """
        awaited, rig = self.now.awaited, self._rig
        if step is None:
            return {}
        if rig is None or awaited in ("", "show"):
            return asdict(step.patch)
        emissive = rig.panel == "emissive"
        if awaited == "move":
            return asdict(spot(step, dim=emissive))
        if rig.shown_manually:
            return {}
        return asdict(field(grey(0), step.patch.bits) if awaited == "set" or emissive else step.patch)

    def _pixels(self) -> dict[str, int]:
        """Width and height of the job's screen, as the log names it; nothing before a log has begun."""
        screen = self.state.started.body.get("screen", {}) if self.state.started is not None else {}
        return {name: int(screen[name]) for name in ("width", "height") if screen.get(name)}


def _seen(number: int, step: str, reading: Reading) -> LatestReading:
    luminance, x, y = _yxy(reading.xyz) if reading.xyz else (None, None, None)
    return LatestReading(number, wall_label(), step, luminance, x, y, reading.status.value)


def _yxy(xyz: tuple[float, float, float]) -> tuple[Any, Any, Any]:
    """Luminance and chromaticity (CIE 015); black has no chromaticity."""
    total = sum(xyz)
    return (xyz[1], xyz[0] / total, xyz[1] / total) if total > 0 else (xyz[1], None, None)
