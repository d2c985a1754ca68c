"""Patches that were read to a requested repeatability, and which of them did not reach it.

The run decides and keeps in each ``done`` what it came to; here it is only reported, but for what no run can see by
readings that are all equal: where the meter's resolution is coarser than what was requested. The uncertainty of a
result rests on its readings, as everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData


@dataclass(frozen=True, slots=True)
class MissedPrecision:
    """A step that did not reach its repeatability: requested and reached in % of the luminance (k = 1), and why."""

    step: str
    asked_percent: float
    reached_percent: float | None
    why: str


@dataclass(frozen=True, slots=True)
class PrecisionSummary:
    """All steps that were read to a precision, and those that fell short."""

    steps: int
    short: tuple[MissedPrecision, ...]


RESOLUTION = "as far as the meter's resolution goes"


def precision_summary(
    bodies: Mapping[str, Mapping[str, Any]], steps: Mapping[str, StepData] = MappingProxyType({})
) -> PrecisionSummary | None:
    """From what ``done`` keeps of each step, and the ``steps`` themselves; None where none was requested."""
    if not bodies:
        return None
    short = []
    for step, body in bodies.items():
        requested = float(body["asked"])
        if not body.get("met"):
            reached = body.get("reached")
            percent = None if reached is None else 100.0 * float(reached)
            short.append(MissedPrecision(step, 100.0 * requested, percent, str(body.get("why", ""))))
        elif (rounding := _rounding(steps.get(step))) > requested:
            short.append(MissedPrecision(step, 100.0 * requested, 100.0 * rounding, RESOLUTION))
    return PrecisionSummary(len(bodies), tuple(short))


def _rounding(measured: StepData | None) -> float:
    """Relative standard uncertainty of a luminance from the meter's resolution; 0 where the noise is the larger."""
    if measured is None or measured.mean is None or measured.mean[1] <= 0.0:
        return 0.0
    squares = [y * y for source, (_, y, _) in measured.vectors() or () if source.group]
    return math.sqrt(math.fsum(squares)) / measured.mean[1]
