"""How the warm-up went, and what was still to come when it ended: from its ``done``, as the run judged it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, Source


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
