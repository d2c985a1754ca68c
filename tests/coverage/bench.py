"""A drawn display and a drawn meter without processes, ports or files: plan, sequencer, records in memory."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import replace
from functools import cache
from random import Random
from typing import Any

from benchd.clock import Clock, Deadline, StopRequest
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest, Status
from benchd.run.job import PlanJob, bench_job, plan_job_from
from benchd.run.log.records import Body, Record, RunState, advance
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.displays import Display
from sim.errors import ErringSensor, Placing
from sim.inprocess import SceneClock, SimControls, SimMeter, SimPositioner
from sim.light_drift import LightDrift
from sim.picture import Picture
from sim.scene import SETTLED_TAUS, Scene
from sim.sensor import Gauss4, Noise, SensorModel
from sim.spectra import Triple
from tests.coverage.gamuts import PLACEHOLDERS, Corners
from tests.run.scene_rig import SceneRig

WALL = "2026-11-25T12:00:00+00:00"
"""Every record's label: the age of a calibration must not depend on the day of the study."""
QUARTILE_NORMAL, QUARTILE_T2 = 0.6744897501960817, 0.816496580927726
"""Upper quartiles of the standard normal distribution and of Student's with 2 degrees of freedom."""


class HeavyTails(Noise):
    """Student's t with 2 degrees of freedom, its quartiles those of the normal distribution: no finite variance."""

    def __init__(self, seed: int) -> None:
        super().__init__("sequence", seed)
        self._dice = Random(f"heavy {seed}")

    def _fresh(self, digest: str, place: tuple[float, float], number: int) -> Gauss4:
        return self._one(), self._one(), self._one(), self._one()

    def _one(self) -> float:
        # With 2 degrees of freedom the distribution function has an inverse in closed form.
        p = self._dice.uniform(1e-12, 1.0 - 1e-12)
        return QUARTILE_NORMAL / QUARTILE_T2 * (2.0 * p - 1.0) / (2.0 * p * (1.0 - p)) ** 0.5


class QuickScene(Scene):
    """A scene that leaves out what costs time; its physics is that of `Scene`.

    What a panel did nine of its longest time constants ago is forgotten, 1e-4 of the slow share of a step. A reading of
    a light on its way is the mean of six moments: between them what is left late, which the study is of, goes straight.
    """

    FORGOTTEN_TAUS = 9.0
    samples_in_transition = 6

    def __init__(self, display: Display, sensor: SensorModel, light_drift: LightDrift | None = None) -> None:
        super().__init__(display, sensor, noise="none", light_drift=light_drift)
        self._longest_s *= self.FORGOTTEN_TAUS / SETTLED_TAUS

    def show(self, picture: Picture) -> None:
        """As ever, and the oldest pictures are forgotten."""
        super().show(picture)
        while len(self._history) > 2 and self.now_s - self._history[1].at_s > self._longest_s:
            del self._history[0]


class FixedClock(SceneClock):
    """Scene time, and one label for all of it."""

    def wall(self) -> str:
        """Always the same."""
        return WALL


class Kept:
    """What a journal does for a run, in memory. Records are what they would be after a file: JSON."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.records: list[Record] = []

    def append(self, kind: str, step: str = "", attempt: int = 0, body: Body | None = None) -> Record:
        """Keep one record."""
        now_ns = int(self._clock.now_s() * 1e9)
        kept = json.loads(json.dumps(body or {}))
        record = Record(len(self.records) + 1, WALL, "drawn", now_ns, kind, step, attempt, kept)
        self.records.append(record)
        return record


class CarelessPositioner(SimPositioner):
    """The meter stands a little otherwise each time that it is moved."""

    def __init__(self, scene: Scene, placing: Placing, u: float, dice: Random) -> None:
        super().__init__(scene)
        self._placing, self._u, self._dice = placing, u, dice

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        """Move, and stand there as chance has it."""
        super().move(place, at, deadline)
        self._placing.factor = 1.0 + self._dice.gauss(0.0, self._u)


class DrawnMeter(SimMeter):
    """A meter with drawn errors before a scene without noise: it may read below zero, and rounds as it is built.

    ``step_cd_m2`` 0: five significant digits. A scene whose meter has the floor 0 has a meter without one.
    """

    def __init__(self, scene: Scene, sensor: ErringSensor, noise: Noise, step_cd_m2: float = 0.0) -> None:
        super().__init__(scene)
        self._sensor, self._noise, self._step = sensor, noise, step_cd_m2

    def identify(self) -> MeterIdentity:
        """A meter without a floor does not tell any."""
        return replace(super().identify(), floor_cd_m2=self._scene.sensor.floor_cd_m2 or None)

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """One reading of the light as it is, and what the meter makes of it."""
        scene = self._scene
        start_s = scene.now_s
        taken = scene.take(request.integration_s)
        gauss = self._noise.draw("", scene.place, 0, start_s)
        told, raw = self._told(self._sensor.disturbed(taken.xyz, taken.integration_s, gauss))
        floor = scene.sensor.floor_cd_m2
        status = Status.UNDER if floor and told[1] < floor else Status.OVER if taken.status == "over" else Status.OK
        return Reading(told, status, taken.integration_s, f"{status.value} {raw}", 0.0)

    def _told(self, xyz: Triple) -> tuple[Triple, str]:
        if self._step:
            digits = len(f"{self._step:.10f}".rstrip("0").partition(".")[2])
            texts = [f"{self._step * round(value / self._step):.{digits}f}" for value in xyz]
        else:
            texts = [f"{value:.5g}" for value in xyz]
        x, y, z = (float(text) for text in texts)
        return (x, y, z), " ".join(texts)


class ExactMeter(SimMeter):
    """Tells all digits: those of the truth must not be rounded."""

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """One reading."""
        taken = self._scene.take(request.integration_s)
        return Reading(taken.xyz, Status.OK, taken.integration_s, "", 0.0)


@cache
def job_of(plan: str) -> PlanJob:
    """The plan's job; the spaces that it names have placeholders for corners."""
    return plan_job_from("coverage", plan, PLACEHOLDERS)


@cache
def _head_of(plan: str) -> Body:
    return started_body(job_of(plan), bench_job("sim-office"), "drawn", "", {})


def measured(
    plan: str,
    scene: Scene,
    meter: SimMeter,
    mover: SimPositioner,
    spaces: Mapping[str, Corners],
    head: Mapping[str, Any],
) -> Sequence[Record]:
    """The records of one whole run of ``plan``, with ``head`` over what the first record says of itself."""
    rig = SceneRig(scene, clock=FixedClock(scene), meter=meter, positioner=mover, controls=SimControls(scene))
    job, out, state = job_of(plan), Kept(rig.clock), RunState()
    body = {**_head_of(plan), "virtual_time": True, **rig.identities(), **head}
    body["blocks"] = deepcopy(body["blocks"])
    for block in body["blocks"]:
        for space in block.get("spaces", ()):
            space["primaries"] = spaces[space["name"]]
    advance(state, out.append("started", body=body))
    assert Sequencer(job.steps, state, rig, out, StopRequest(), job.plan.warm_up.limits).run().complete  # type: ignore[arg-type]
    return out.records
