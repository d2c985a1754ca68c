"""Noise that goes on from step to step: what the means of neighbouring steps have in common.

Where noise lasts longer than a change of patch, the mean of a step is off in the same direction as that of the step
before. In units of their own standard uncertainties the two have the correlation c = sum of r(t_j - t_i) over both
steps' readings / (n m sqrt(V V')). The noise of a step is then c times that of the step before and sqrt(1 - c^2) times
one of its own, as for a first-order process: what is common adds up in a mean of many steps and goes out of a ratio.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from benchd.analysis.noise.serial import CorrelationCurve, Serial
from benchd.analysis.uncertainty.sources import Source

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData

SMALLEST_SHARE = 0.1
"""A share of the noise below this is not followed further back."""
MAX_CORRELATION = 0.98
MAX_READINGS = 50
"""Of one step, nearest to the other."""


class StepLink(NamedTuple):
    """``before``: the step before, with the correlation of both means in ``luminance`` and ``colour``."""

    before: str
    luminance: float
    colour: float


Links = Mapping[str, StepLink]


def links(measured: Mapping[str, StepData], serial: Serial | None) -> dict[str, StepLink]:
    """Of the steps in the order in which they were done; only those that have something in common."""
    found: dict[str, StepLink] = {}
    if serial is None or not serial.counts:
        return found
    before: StepData | None = None
    for step, one in measured.items():
        if before is not None and before.session == one.session and before.serial and one.serial:
            curves = (serial.luminance, serial.colour)
            worth = [math.sqrt(a.mean * b.mean) for a, b in zip(before.serial, one.serial, strict=True)]
            both = [_common(curve, before, one) / v for curve, v in zip(curves, worth, strict=True)]
            link = StepLink(before.step, *(min(max(c, 0.0), MAX_CORRELATION) for c in both))
            if max(link.luminance, link.colour) >= SMALLEST_SHARE:
                found[step] = link
        before = one if one.figures else None
    return found


def _common(curve: CorrelationCurve, before: StepData, one: StepData) -> float:
    """Mean of r between the readings of two steps."""
    first, second = (_times_s(step) for step in (before, one))
    apart = round((one.read_ns - before.read_ns) / 1e9, 3)
    lags = apart + second[:MAX_READINGS, None] - first[-MAX_READINGS:][None, :]
    if lags.min() <= 0.0:
        return 0.0  # not one after the other, whatever the times mean
    r, _ = curve.at(lags.ravel())
    return float(r.mean())


def _times_s(step: StepData) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Of its readings, about their middle."""
    return (np.arange(step.figures, dtype=np.float64) - (step.figures - 1) / 2.0) * (step.spacing_s or 0.0)


def noise_of(step: str, part: int, dofs: Mapping[str, float], links: Links) -> list[tuple[Source, float]]:
    """The noise of a step's mean in units of its standard uncertainty, by sources; their squares add up to 1."""
    found: list[tuple[Source, float]] = []
    share = 1.0
    while True:
        link = links.get(step)
        c = 0.0 if link is None or link.before not in dofs else link.colour if part else link.luminance
        if share * c < SMALLEST_SHARE:
            found.append((Source(f"readings of {step}", dofs[step], part), share))
            return found
        assert link is not None
        found.append((Source(f"readings of {step}", dofs[step], part), share * math.sqrt(1.0 - c * c)))
        share *= c
        step = link.before
