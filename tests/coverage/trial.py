"""One trial: a display and a meter drawn at random, measured by the whole chain, held against the truth.

The interval of a figure is meant to hold what the same formula gives for the display's true light: settled, warm,
at the time and place of the measurement, for the CIE 1931 observer, whatever the meter does wrong. So the truth of a
trial is the analysis of a second log of the same display, read by a meter without noise and errors.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from random import Random
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.analysis.meter_budget import MeterBudget, budget_from, channel_gains
from benchd.clock import Deadline, StopRequest
from benchd.instruments.meter import Reading, ReadRequest, Status
from benchd.report.data import Json, quantities, to_json
from benchd.report.log_reference import LogReference
from benchd.run.job import PlanJob, bench_job, plan_job_from
from benchd.run.journal import Journal, LogFile
from benchd.run.records import Body, RunState, advance
from benchd.run.sequencer import Sequencer
from benchd.run.session import started_body
from sim.displays import OFFICE_LCD, WIDE_GAMUT_LCD, Display, DisplayModel
from sim.errors import ErringSensor, MeterErrors, Placing
from sim.inprocess import SceneClock, SimControls, SimMeter, SimPositioner, SimScreen
from sim.scene import Scene
from sim.sensor import SensorModel
from tests.coverage.gamuts import AT_FULL, BT709, drawn_spaces, is_share
from tests.coverage.gamuts import PLAN as GAMUT

PLAN = """\
plan: coverage
target: {target}
warm_up: none
settle_s: 1
readings: {readings}
dark_readings: {dark_readings}
look_again: false
blocks:
  - luminance: {{}}
  - grayscale: {{steps: {steps}, white: target}}
  - contrast: {{kinds: [sequential, checkerboard]}}
  - uniformity: {{grid: 3x3, levels_percent: [100, 50]}}
"""
SWEEP = """\
plan: coverage-sweep
target: {target}
warm_up: none
settle_s: 1
readings: {readings}
dark_readings: {dark_readings}
look_again: false
sweep:
  - {{control: preset, values: [standard, warm]}}
  - {{control: brightness, values: [20, 100]}}
blocks:
  - luminance: {{}}
  - grayscale: {{codes: [0, 128, 255], white: target, only: [{{brightness: 100}}]}}
"""
EVERYTHING = re.compile("")
OF_GAMUT = re.compile(r".*/coverage/.*/(coverage|area_ratio)_")
OF_SWEEP = re.compile(r"sweep/|.*/grayscale/code-255/delta_e/white_luminance$")
"""Of a sweep: its table, and the difference of white from the target's; the other figures are those of `PLAN`."""
TARGETS = ("srgb", "bt1886", "power-2.2")
ROUNDING = 1e-9
DECADES = range(-4, 6)


@dataclass(frozen=True, slots=True)
class Checked:
    """One figure of one trial: did its interval hold the truth?

    ``width``: that of the interval over the size of the value.
    """

    path: str
    held: bool
    below: bool  # the truth lies below the interval
    width: float


@dataclass(slots=True)
class Rig:
    clock: SceneClock
    screen: SimScreen
    meter: SimMeter
    positioner: SimPositioner
    controls: SimControls

    def reopen_meter(self) -> None:
        raise AssertionError("nothing is lost here")

    def reopen_screen(self) -> None:
        raise AssertionError("nothing is lost here")


class CarelessPositioner(SimPositioner):
    """The meter stands a little otherwise each time that it is moved."""

    def __init__(self, scene: Scene, placing: Placing, u: float, dice: Random) -> None:
        super().__init__(scene)
        self._placing, self._u, self._dice = placing, u, dice

    def move(self, place: str, at: tuple[float, float], deadline: Deadline) -> None:
        super().move(place, at, deadline)
        self._placing.factor = 1.0 + self._dice.gauss(0.0, self._u)


class ExactMeter(SimMeter):
    """Tells all digits: those of the truth must not be rounded."""

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        taken = self._scene.take(request.integration_s)
        return Reading(taken.xyz, Status(taken.status), taken.integration_s, "", 0.0)


def drawn_display(dice: Random) -> DisplayModel:
    """An invented display: white, black, gammas, falloff and tint all drawn."""
    base = dice.choice((OFFICE_LCD, WIDE_GAMUT_LCD))
    white = math.exp(dice.uniform(math.log(80.0), math.log(600.0)))
    gamma = dice.uniform(2.0, 2.4)
    return replace(
        base,
        white_xy=(dice.gauss(0.3127, 0.008), dice.gauss(0.3290, 0.008)),
        white_cd_m2=white,
        black_cd_m2=white / math.exp(dice.uniform(math.log(500.0), math.log(2000.0))),
        black_tint=(dice.uniform(0.8, 1.2), dice.uniform(0.9, 1.1), dice.uniform(0.8, 1.3)),
        gamma=(gamma + dice.gauss(0.0, 0.03), gamma + dice.gauss(0.0, 0.03), gamma + dice.gauss(0.0, 0.03)),
        bow=dice.gauss(0.0, 0.02),
        falloff=dice.uniform(0.02, 0.2),
        tilt=(dice.gauss(0.0, 0.03), dice.gauss(0.0, 0.03)),
        colour_tilt=(dice.gauss(0.0, 0.01), dice.gauss(0.0, 0.002), dice.gauss(0.0, 0.01)),
        corner_glow=dice.uniform(0.0, 0.4),
        glare=dice.uniform(0.0002, 0.001),
    )


def drawn_statement(dice: Random) -> Body:
    """What a bench profile may state of a meter, at k = 2."""
    return {
        "k": 2.0,
        "calibration_percent": dice.uniform(0.5, 4.0),
        "chromaticity_xy": dice.uniform(0.0005, 0.004),
        "linearity_percent": dice.uniform(0.05, 0.6),
        "zero_cd_m2": dice.uniform(0.0, 0.001),
        "drift_percent_per_year": dice.uniform(0.1, 1.0),
        "placement_percent": dice.uniform(0.0, 0.6),
        "calibrated": date(2026, dice.randint(1, 6), 1).isoformat(),
    }


def drawn_noise(dice: Random) -> SensorModel:
    """A meter's noise: quieter and noisier ones than the shipped."""
    return SensorModel(
        dark_cd_m2=5e-4 * dice.uniform(0.3, 1.5),
        shot=2e-3 * dice.uniform(0.5, 2.0),
        scale=1e-3 * dice.uniform(0.3, 3.0),
    )


def drawn_errors(budget: MeterBudget, dice: Random) -> MeterErrors:
    """Errors of one meter, drawn from what is stated of it."""
    dx, dy = dice.gauss(0.0, budget.colour_x), dice.gauss(0.0, budget.colour_y)
    (x_of_dx, z_of_dx), (x_of_dy, z_of_dy) = channel_gains("x", dx), channel_gains("y", dy)
    zero = tuple(dice.gauss(0.0, budget.zero_cd_m2) for _ in range(3))
    return MeterErrors(
        scale=dice.gauss(0.0, budget.scale) + dice.gauss(0.0, budget.drift),
        gain_x=x_of_dx + x_of_dy,
        gain_z=z_of_dx + z_of_dy,
        zero=(zero[0], zero[1], zero[2]),
        linearity={decade: dice.gauss(0.0, budget.linearity) for decade in DECADES},
    )


def trial(seed: int, folder: Path, *, steps: int = 11) -> Iterator[Checked]:
    """Every figure of one drawn display, measured by one drawn meter."""
    dice = Random(seed)
    model, stated, noise = drawn_display(dice), drawn_statement(dice), drawn_noise(dice)
    target, readings = dice.choice(TARGETS), dice.randint(3, 5)
    display = Display(model)
    head = {"uncertainty": stated, "meter": asdict(SimMeter(Scene(display, noise)).identify())}
    budget = budget_from(head, "2026-11-25")
    assert budget is not None
    placing = Placing(1.0 + dice.gauss(0.0, budget.placement))
    known = {name: getattr(noise, name) for name in ("dark_cd_m2", "shot", "scale")}
    sensor = ErringSensor(**known, errors=drawn_errors(budget, dice), placing=placing)
    scene = Scene(display, sensor, seed=seed, noise="sequence")
    mover = CarelessPositioner(scene, placing, budget.placement, dice)
    for plan, wanted in ((PLAN, EVERYTHING), (SWEEP, OF_SWEEP)):
        job = _job(target, readings, readings + 2, steps, plan)
        read = _measured(job, scene, mover, stated, folder / "read.log")
        true = truth_figures(model, target, folder, steps=steps, plan=plan)
        yield from _held(read, true, wanted)
    yield from _gamut_trial(seed, model, scene, mover, stated, folder, (target, readings))


def _gamut_trial(
    seed: int, model: DisplayModel, scene: Scene, mover: SimPositioner, stated: Body, folder: Path, how: tuple[str, int]
) -> Iterator[Checked]:
    """What the display covers of spaces about its own triangle."""
    target, readings = how
    about = truth_figures(model, target, folder, plan=GAMUT, files=drawn_spaces(BT709, Random(0)))
    spaces = drawn_spaces(about, Random(f"gamut of {seed}"))
    read = _measured(_job(target, readings, readings + 2, 0, GAMUT, spaces), scene, mover, stated, folder / "read.log")
    yield from _held(read, truth_figures(model, target, folder, plan=GAMUT, files=spaces), OF_GAMUT)


def _held(read: Json, true: Mapping[str, float | None], wanted: re.Pattern[str]) -> Iterator[Checked]:
    for path, figure in quantities(read):
        value, low, high = figure["value"], figure["low"], figure["high"]
        at = true.get(path)
        if low is None or high is None or at is None or figure["bound"] or not wanted.match(path):
            continue
        full = is_share(path) and at >= 100.0 - ROUNDING
        if high - low <= ROUNDING * max(abs(value), ROUNDING) >= abs(at - value) and not full:
            continue  # exact: white against itself, the centre against itself
        if full:
            path, at = path + AT_FULL, 100.0
        yield Checked(path, low <= at <= high, at < low, (high - low) / max(abs(value), 1e-12))


def truth_figures(
    model: DisplayModel,
    target: str,
    folder: Path,
    *,
    steps: int = 11,
    plan: str = PLAN,
    files: Mapping[str, str] | None = None,
) -> dict[str, float | None]:
    """What the same formulae give for the light of the display itself, by path."""
    still = Scene(Display(model), SensorModel(), noise="none")
    document = _measured(
        _job(target, 1, 1, steps, plan, files), still, SimPositioner(still), None, folder / "truth.log"
    )
    return {path: figure["value"] for path, figure in quantities(document)}


def _job(
    target: str, readings: int, dark_readings: int, steps: int, plan: str, files: Mapping[str, str] | None = None
) -> PlanJob:
    text = plan.format(target=target, readings=readings, dark_readings=dark_readings, steps=steps)
    return plan_job_from("coverage", text, files or {})


def _measured(job: PlanJob, scene: Scene, mover: SimPositioner, stated: Body | None, path: Path) -> Json:
    meter = SimMeter(scene) if stated else ExactMeter(scene)
    rig = Rig(SceneClock(scene), SimScreen(scene), meter, mover, SimControls(scene))
    who = {"meter": asdict(rig.meter.identify()), "screen": asdict(rig.screen.identify()), "simulated": True}
    head: dict[str, Any] = {**started_body(job, bench_job("sim-office"), "drawn", "", who), "uncertainty": stated}
    path.unlink(missing_ok=True)
    out = journal_at(path, rig.clock)
    state = RunState()
    try:
        advance(state, out.append("started", body=head))
        assert Sequencer(job.steps, state, rig, out, StopRequest()).run().complete
    finally:
        out.close()
    return to_json(analyse(LogFile(path).records()), LogReference("drawn", "0" * 64))


def journal_at(path: Path, clock: SceneClock) -> Journal:
    """A new log whose records are not forced to the disk one by one: nothing is cut off here."""
    descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_APPEND, 0o644)
    return Journal(path, descriptor, "drawn", clock, 0, 0, sync=lambda descriptor: None)
