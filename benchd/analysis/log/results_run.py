"""How the run went: the warm-up, patches read to a repeatability, and what was read beside the patches.

The run decides and keeps in its ``done`` records what it came to; here that is only reported, but for what no run can
see by readings that are all equal: where the meter's resolution is coarser than what was requested. The uncertainty of
a result rests on its readings, as everywhere.

The same rules as in `benchd.analysis.results`: every figure is a `Quantity`; absent ones say why.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, Source

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData


@dataclass(frozen=True, slots=True)
class WarmUpTrend:
    """What the light had still to come when the warm-up ended, in percent of it.

    ``to_come`` over the next ``ahead_min`` minutes, for which the run was expected to last; ``in_hour`` over the next
    hour; ``per_hour``: as it changed at the end. ``steady``: no end of it was in sight.
    """

    ahead_min: float
    to_come: Quantity
    in_hour: Quantity
    per_hour: Quantity
    steady: bool


@dataclass(frozen=True, slots=True)
class WarmUp:
    """How the warm-up went. ``luminance`` is the mean over its readings, its ``s`` their standard deviation.

    ``swing_percent`` is from the lowest to the highest light within the last minute where it swung beyond the noise of
    its readings, else None. ``not_stable_because``: of "band", "to come", "steady trend", "swings", "too few readings".
    """

    stable: bool
    minutes: float | None
    luminance: Quantity
    trend: WarmUpTrend | None = None
    swing_percent: float | None = None
    not_stable_because: tuple[str, ...] = ()


def warm_up_of(done: Mapping[str, Any], luminance: Quantity) -> WarmUp:
    """From the body of its ``done`` and the luminance of its readings."""
    minutes, swing = done.get("minutes"), done.get("swing") or {}
    return WarmUp(
        stable=bool(done.get("stable")),
        minutes=None if minutes is None else float(minutes),
        luminance=luminance,
        trend=_trend(done.get("trend"), luminance),
        swing_percent=100.0 * float(swing["peak_to_peak"]) if swing.get("seen") else None,
        not_stable_because=tuple(map(str, done.get("not_stable_because", ()))),
    )


def _trend(trend: Mapping[str, Any] | None, luminance: Quantity) -> WarmUpTrend | None:
    if trend is None:
        return None

    def percent(name: str, unit: str) -> Quantity:
        source = Source(f"trend of the warm-up: {name}", float(trend["dof"]))
        sources = Fixed(((source, 100.0 * float(trend[f"u_{name}"])),))
        value = 100.0 * float(trend[name])
        return Quantity(value, unit, luminance.n, records=luminance.records, sources=sources)

    to_come, in_hour = percent("change", "%"), percent("in_hour", "%")
    return WarmUpTrend(float(trend["ahead_min"]), to_come, in_hour, percent("per_hour", "%/h"), bool(trend["steady"]))


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


@dataclass(frozen=True, slots=True)
class OffsetReading:
    """One occasion. ``minutes`` since the first record of the same ``session`` (from 1), bench time."""

    step: str
    session: int
    minutes: float
    luminance: Quantity


@dataclass(frozen=True, slots=True)
class Offset:
    """All occasions of one kind.

    ``screen``      "capped", "black" or "off": what was in front of the meter
    ``luminance``   mean of all, cd/m2; negative where the meter reads so
    ``subtracted``  from how many steps it was taken off; none unless the plan names it
    ``why``         why it was not subtracted, or what must be known where it was
    ``left_out``    steps that it could not be taken off, and why, one sentence each
    """

    block: str
    method: str
    screen: str
    readings: tuple[OffsetReading, ...]
    luminance: Quantity
    subtracted: int
    why: str
    left_out: tuple[str, ...] = ()
    missing: str = ""
