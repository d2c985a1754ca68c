"""Bench time of plans that are read to a precision, beside a script of fixed waits and counts and the physical limit.

All three on the same simulated scenes, in virtual time, with the same repeatability asked for:

adaptive   the plan with ``repeatability``, patches there and back
fixed      the waits of the shipped plan sdr-standard (0.6 s, dark 3 s; the meter chooses the integration time, dark
           1 s), patches shuffled, and at least its counts (3, dark 5); where these do not reach the precision, as many
           as the worst bright and the worst dark patch need
limit      for each patch, in the adaptive order: the time from the change to where the light stays within half the
           asked repeatability of its end, and the least integration that reaches the precision; moves and the pause
           between light and dark as in the run. Only the simulator knows it: no search, no doubt, nothing rounded.

Achieved is the root mean square error of the patches' means against the truth, over repeats with other noise, as a
share of the asked: of all patches that can reach it within the cap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import fmean

from benchd.clock import StopRequest
from benchd.plan import library
from benchd.plan import steps as plan_steps
from benchd.plan.step import Step
from benchd.run import journal
from benchd.run.adaptive import TOLERATED, Learned, Limits
from benchd.run.journal import LogFile
from benchd.run.precise import Precise
from benchd.run.records import RunState, advance
from benchd.run.sequencer import Sequencer
from sim.displays import MODELS, Display, DisplayModel
from sim.inprocess import SceneClock, SimMeter, SimPositioner, SimScreen
from sim.scene import MOVE_S, Scene
from sim.sensor import SensorModel
from sim.truth import painted
from tests.bench.figures import Figure, Settings, tell

CAP_S = 60.0
FINE_S = 0.002
MOST_OVER_LIMIT = 1.05
MOST_OF_FIXED = 1.0 / 3.0

BLOCKS = """
blocks:
  - luminance: {}
  - grayscale: {steps: 52}
  - patches: {name: colours, list: [LATTICE]}
  - uniformity: {grid: 5x5, levels_percent: [100, 50]}
"""

FINE = SensorModel()
COARSE = SensorModel(dark_cd_m2=2.5e-3, shot=1e-2, scale=5e-3)
"""Five times the scatter of `FINE`, as a small meter has; both invented."""


@dataclass(frozen=True, slots=True)
class Case:
    """One scene and what is asked of it."""

    name: str
    model: DisplayModel
    sensor: SensorModel
    repeatability: float


SLOW = replace(MODELS["office-lcd"], name="slow-lcd", slow_share=0.06, slow_tau_s=0.4)

CASES = (
    Case("office-lcd, small meter, 0.2 %", MODELS["office-lcd"], COARSE, 0.002),
    Case("office-lcd, small meter, 0.5 %", MODELS["office-lcd"], COARSE, 0.005),
    Case("office-lcd, fine meter, 0.1 %", MODELS["office-lcd"], FINE, 0.001),
    Case("office-lcd, fine meter, 0.5 %", MODELS["office-lcd"], FINE, 0.005),
    Case("slow-lcd (6 % with 0.4 s), small meter, 0.2 %", SLOW, COARSE, 0.002),
    Case("emissive, small meter, 0.2 %", MODELS["emissive"], COARSE, 0.002),
)


@dataclass(slots=True)
class Rig:
    """A scene behind the sequencer's protocols."""

    scene: Scene

    def __post_init__(self) -> None:
        pass
