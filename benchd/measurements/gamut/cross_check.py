"""Hue angles of full colours computed again with an independent library."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.verdicts.cross_check import Again, Found, xyz_of
from benchd.measurements.gamut.results import Gamut

ADDITIVE = {"red": "r", "yellow": "rg", "green": "g", "cyan": "gb", "blue": "b", "magenta": "rb"}
"""Primaries of the full colours."""


def cross_check(result: Gamut, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """Hue angles of the full colours about their white, less those of the target."""
    target, lights = results.target, {one.name: xyz_of(one.x) for one in result.colours}
    white = lights.get("white")
    if target is None or white is None:
        return
    for shift in result.hue_shifts:
        light = lights.get(shift.name)
        if light is None:
            continue
        goal = reference.rgb_to_xyz(target, np.array([float(primary in ADDITIVE[shift.name]) for primary in "rgb"]))
        for figure, hue in ((shift.uv, reference.hue_uv), (shift.lab, reference.hue_ab)):
            turned = float(hue(np.array(light), np.array(white)) - hue(goal, reference.xyz_of(target.white)))
            yield Again("hue angle", figure, (turned + 180.0) % 360.0 - 180.0)


PART = cross_check
