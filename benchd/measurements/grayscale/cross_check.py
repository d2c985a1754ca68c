"""Greys computed again with an independent library: balance, distance from white, tone curve, CIEDE2000."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.results import Results
from benchd.analysis.verdicts.cross_check import Again, Found, averaged, black_of, rows_of
from benchd.measurements.grayscale.results import Grayscale, GrayStep


def cross_check(result: Grayscale, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """Greys against the target under each white; where black is a bound, with both of its ends."""
    dark = next((one.luminance for one in result.steps if one.signal == 0.0), None)
    black = None if dark is None or dark.value is None else black_of(dark)
    cases = [(result.steps, result.delta_e, black)]
    if result.alternative is not None and dark is not None:
        cases.append((result.alternative.steps, result.alternative.delta_e, dark.value))
    for steps, averages, level in cases:
        found = [] if results.target is None else list(greys(steps, results.target, level))
        yield from found
        for one in averages:
            over = (one.mean, one.median, one.percentile_95, one.maximum)
            yield from averaged("CIEDE2000", [getattr(step.delta_e, one.convention) for step in steps], over, found)


def greys(steps: Sequence[GrayStep], target: Target, black: float | None) -> Iterator[Again]:
    """Each step; the white is the step of the largest code."""
    xyz = rows_of(step.chromaticity.x for step in steps)
    uv, white_uv = reference.uv(xyz), reference.uv(reference.xyz_of(target.white))
    balance = reference.xyz_to_rgb(target, xyz / xyz[:, 1:2])
    for step, shares, apart in zip(steps, balance, reference.apart(uv, white_uv), strict=True):
        for figure, share in zip(step.rgb_balance, shares, strict=True):
            yield Again("RGB balance", figure, float(share))
        yield Again("du'v'", step.delta_uv, float(apart))
    white = next((one for step, one in zip(steps, xyz, strict=True) if step.signal == 1.0), None)
    if white is None or not any(step.target_luminance.plain for step in steps):
        return
    signal = np.array([step.signal for step in steps])
    wanted = reference.curve(target, signal, white[1], black)
    point, level = reference.xyz_of(target.white), target.luminance_cd_m2
    by_white = {
        "white_luminance": (wanted[:, None] * point, point * white[1]),
        "white_measured": ((wanted / white[1])[:, None] * white, white),
    }
    if level is not None and any(step.delta_e.absolute and step.delta_e.absolute.plain for step in steps):
        by_white["absolute"] = (reference.curve(target, signal, level, black)[:, None] * point, point * level)
    for convention, (goals, lab_white) in by_white.items():
        again = reference.delta_e(reference.lab(goals, lab_white), reference.lab(xyz, lab_white))
        for step, value in zip(steps, again, strict=True):
            yield Again("CIEDE2000", getattr(step.delta_e, convention), float(value))
    for step, value in zip(steps, wanted, strict=True):
        yield Again("tone curve", step.target_luminance, float(value))


PART = cross_check
