"""What drift compensation is worth, on SIMULATED benches: displays that warm up, walk at random, make a step, or none.

    python -m tests.drift.study [--runs 20]

Each run is a whole one: plan, sequencer, log, analysis. The truth is the display's at the moment of the first
reference reading, known to the simulator; errors are of the luminance of grey steps, in percent of it.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import NamedTuple

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.clock import StopRequest
from benchd.patch.model import field, grey
from benchd.plan import steps as plan_steps
from benchd.plan.plan import Plan
from benchd.run.log.journal import LogFile
from benchd.run.sequencer import Sequencer
from sim.displays import OFFICE_LCD, Display
from sim.light_drift import LightDrift
from sim.scene import Scene
from sim.sensor import SensorModel
from sim.truth import truth_of
from tests.plan.helpers import plan_from
from tests.run.scene_rig import SceneRig, session_log

PLAN = """
plan: drift-study
warm_up: none
reference: {every_min: 3}
readings: 3
settle_s: 20
blocks: [{grayscale: {steps: 64}}]
"""
"""Twenty-two minutes; 20 s of settling stand for everything else that a long plan does between two patches."""
DRIFT = 0.05
LOSS = DRIFT / (1.0 + DRIFT)
"""Missing at a cold start, so that the light grows by 5 % of what it was at first."""
BRIGHT_CD_M2 = 1.0


class World(NamedTuple):
    """What the light does by itself.

    ``loss``: what is missing of it at the start, as a share; ``walk_percent``: standard deviation of its random walk in
    one hour; ``step_percent``: a step, at a moment that is drawn from the plan's twenty-two minutes.
    """

    loss: float = 0.0
    walk_percent: float = 0.0
    step_percent: float = 0.0


WORLDS = {
    "warms up by 5 %": World(LOSS),
    "stable": World(),
    "walks 1 % an hour": World(walk_percent=1.0),
    "both": World(0.02, 1.0),
    "a step of 1 %": World(step_percent=1.0),
}


class Rig(SceneRig):
    """One display and one meter without processes."""

    def __init__(self, world: World, seed: int) -> None:
        model = replace(OFFICE_LCD, cold_loss=(world.loss, world.loss, world.loss), warm_up_tau_s=600.0)
        self.step_s = Random(f"step {seed}").uniform(60.0, 1260.0)
        steps = ((self.step_s, world.step_percent),) if world.step_percent else ()
        self.light_drift = LightDrift(world.walk_percent, steps, seed)
        super().__init__(
            Scene(Display(model), SensorModel(), seed=seed, noise="sequence", warm=False, light_drift=self.light_drift)
        )


class Errors(NamedTuple):
    """Root mean square errors in percent, and how often an interval of 95 % held the truth."""

    raw: float
    compensated: float
    noise: float  # what the meter's own noise makes of a mean of three readings
    held: float  # share of compensated figures whose interval holds the truth; NaN where none is stated
    unchanged: float  # share of runs in which nothing had to be changed
    inside: float  # as ``held``, of readings between the two references of the step alone; NaN without a step


def run(plan: Plan, log: Path, rig: Rig) -> None:
    """One whole run."""
    steps = plan_steps.expand(plan, {})
    head = {
        "plan": {"name": plan.plan},
        "steps": len(steps),
        "blocks": plan_steps.describe(plan, {}),
        "settings": plan_steps.settings(plan),
        **rig.identities(),
        "target": {
            "name": "power",
            "about": "",
            "white": [0.3127, 0.329],
            "primaries": {"red": [0.64, 0.33], "green": [0.3, 0.6], "blue": [0.15, 0.06]},
            "curve": {"kind": "power", "exponent": 2.2},
            "luminance_cd_m2": None,
        },
        "virtual_time": True,
    }
    with session_log(log, rig.clock, head) as (out, state):
        Sequencer(steps, state, rig, out, StopRequest(), None).run()


def first_reference_s(log: Path) -> float:
    """Bench time of the middle of the first reference step."""
    times = [r.mono_ns for r in LogFile(log).records() if r.step == "reference/1" and r.kind == "reading"]
    return sum(times) / len(times) / 1e9


def both(log: Path) -> tuple[Results, Results]:
    """Results as they were read, and compensated."""
    records = list(LogFile(log).records())
    return analyse(records, compensate=False), analyse(records, compensate=True)


def around(log: Path, moment_s: float) -> tuple[float, float]:
    """Bench times of the references before and after a moment: when the patches were shown."""
    shown = [r.mono_ns / 1e9 for r in LogFile(log).records() if r.step.startswith("reference/") and r.kind == "done"]
    return max((s for s in shown if s <= moment_s), default=0.0), min((s for s in shown if s > moment_s), default=1e9)


def study(world: World, runs: int, folder: Path, first_seed: int = 1) -> Errors:
    """Errors over ``runs`` runs of the plan, each with noise of its own."""
    plan = plan_from(PLAN)
    squares = [0.0, 0.0, 0.0]
    count, stated, held, unchanged = 0, 0, 0, 0
    inside: list[bool] = []
    for seed in range(first_seed, first_seed + runs):
        rig, log = Rig(world, seed), folder / f"{seed}.log"
        log.unlink(missing_ok=True)
        run(plan, log, rig)
        first_s = first_reference_s(log)
        begin = rig.scene.display.warm_up(first_s)[1] * rig.light_drift.factor(first_s)
        before_s, after_s = around(log, rig.step_s)
        read_s = {r.step: r.mono_ns / 1e9 for r in LogFile(log).records() if r.kind == "done"}
        raw, compensated = both(log)
        unchanged += not compensated.compensation[0].steps or not compensated.compensation[0].maximum.value
        for as_read, used in zip(raw.of("grayscale")[0].steps, compensated.of("grayscale")[0].steps, strict=True):
            truth = begin * truth_of(rig.scene, field(grey(used.code)))[1]
            if truth < BRIGHT_CD_M2:
                continue
            sensor = rig.scene.sensor
            noise = sensor.repeatability_cd_m2(truth, sensor.integration_s(truth)) / math.sqrt(3)
            values = (as_read.luminance.value or 0.0, used.luminance.value or 0.0, truth + noise)
            squares = [one + (value / truth - 1.0) ** 2 for one, value in zip(squares, values, strict=True)]
            count += 1
            interval = used.luminance.interval
            if interval is not None:
                stated += 1
                holds = interval[0] <= truth <= interval[1]
                held += holds
                if world.step_percent and before_s <= read_s[f"grayscale/code-{used.code}"] <= after_s:
                    inside.append(holds)
    rms = [100.0 * math.sqrt(one / count) for one in squares]
    of_inside = sum(inside) / len(inside) if inside else math.nan
    return Errors(rms[0], rms[1], rms[2], held / stated if stated else math.nan, unchanged / runs, of_inside)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.drift.study", description="Drift compensation, SIMULATED.")
    parser.add_argument("--runs", type=int, default=20, help="runs of each display")
    runs = parser.parse_args().runs
    print("SIMULATED. Errors of luminance, root mean square, %; the meter's noise alone for comparison.")
    print(
        f"{'display':<24}{'as read':>9}{'compensated':>13}{'noise':>8}{'95 % holds':>12}{'unchanged':>11}{'inside':>8}"
    )
    with tempfile.TemporaryDirectory() as folder:
        for name, world in WORLDS.items():
            found = study(world, runs, Path(folder))
            print(
                f"{name:<24}{found.raw:>9.4f}{found.compensated:>13.4f}{found.noise:>8.4f}"
                f"{found.held:>12.3f}{found.unchanged:>11.2f}{found.inside:>8.3f}"
            )


if __name__ == "__main__":
    main()
