"""How the simulated meter stands on the screen, and which run of a repetition this is.

`benchd repeat` passes to the companions of a bench in two environment variables which run begins and after which
placement of the meter: with every run comes fresh noise, with every placement a meter that stands differently.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from random import Random

from sim.sensor import SensorModel

RUN, PLACEMENT = "BENCHD_RUN", "BENCHD_PLACEMENT"
APART = 1_000_003  # so that the seed of one bench's run is no other bench's


def seed_of_run(seed: int, environment: Mapping[str, str] = os.environ) -> int:
    """The seed of the noise: another for every run of a repetition, ``seed`` itself outside of one."""
    run = environment.get(RUN, "")
    return seed + APART * int(run) if run.isdigit() else seed


def placed(sensor: SensorModel, percent: float, seed: int, environment: Mapping[str, str] = os.environ) -> SensorModel:
    """The sensor as it stands now: luminance off by ``percent`` (one standard deviation), colour by a fifth of it."""
    if not percent:
        return sensor
    draw = Random(f"{seed}|placement|{environment.get(PLACEMENT, '')}")
    scale = 1.0 + percent / 100.0 * draw.gauss(0.0, 1.0)
    x, z = (scale * (1.0 + percent / 500.0 * draw.gauss(0.0, 1.0)) for _ in range(2))
    return replace(sensor, placed=(x, scale, z))
