"""The beat between a reading's integration and a light that swings: how far off the reading can be, and its share of u.

With f the rate, t the integration time, f t periods in it:

- a sinusoidal swing of amplitude m (share of the mean): at most m |sinc(f t)|, sinc(x) = sin(pi x) / (pi x)
- a train of pulses of duty D: with whole periods n and the rest r = f t - n, the light of a window is between
  n D + max(0, r - (1 - D)) and n D + min(r, D) in units of a period; at most (1 - D) / (f t) from the mean

Exact means of the two signals over a window. The phase is not known, so the first is a U-shaped distribution (arc
sine, JCGM 101:2008, 6.4.6: u = a / sqrt 2), the second is taken as rectangular (JCGM 100:2008, 4.3.7: u = a / sqrt 3).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any, NamedTuple

from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_data import StepData
from benchd.analysis.uncertainty.sources import Source

REFRESH, DIMMING = "refresh beat", "dimming beat"
RATE_U = 1e-4
"""Relative: how well a rate is known, and how well a meter keeps its time (common practice)."""
DUTIES = 16
NEGLIGIBLE = 1e-7


class Flicker(NamedTuple):
    """How the light swings; None where that is not known. Rates in Hz, depth and duty as shares."""

    refresh_hz: float | None = None
    refresh_depth: float | None = None
    dimming_hz: float | None = None
    dimming_duty: float | None = None

    @classmethod
    def of(cls, head: Mapping[str, Any]) -> Flicker:
        """From the log's head; of a log without it nothing is known."""
        found = head.get("flicker") or {}

        def number(key: str) -> float | None:
            return None if found.get(key) is None else float(found[key])

        return cls(number("refresh_hz"), number("refresh_depth"), number("dimming_hz"), number("dimming_duty"))


def sine_bound(depth: float, rate_hz: float, integration_s: float) -> float:
    """Largest error, as a share of the mean, of a window over a sine of amplitude ``depth``."""
    periods = rate_hz * integration_s
    return depth * abs(math.sin(math.pi * periods) / (math.pi * periods))


def pulse_extremes(duty: float, rate_hz: float, integration_s: float) -> tuple[float, float]:
    """Lowest and highest error, as a share of the mean, of a window over pulses of ``duty``."""
    periods = rate_hz * integration_s
    whole = math.floor(periods)
    rest = periods - whole
    low, high = whole * duty + max(0.0, rest - (1.0 - duty)), whole * duty + min(rest, duty)
    return low / (periods * duty) - 1.0, high / (periods * duty) - 1.0


def with_beat(log_data: LogData, head: Mapping[str, Any]) -> LogData:
    """The log_data with the beat of every step among its influences; the light itself stays as it is."""
    flicker = Flicker.of(head)
    if not (flicker.refresh_hz and flicker.refresh_depth) and not flicker.dimming_hz:
        return log_data
    return replace(
        log_data, measured={step: _with_beat(one, flicker) for step, one in log_data.measured.items()}, _by_block={}
    )


def _with_beat(one: StepData, flicker: Flicker) -> StepData:
    if one.mean is None or not one.integration_s:
        return one
    x, y, z = one.mean
    # Readings that follow each other keep the phase, so their mean beats as one of them does.
    added = tuple(
        (Source(f"{name} of {one.step}"), (u * x, u * y, u * z))
        for name, u in relative_beats(flicker, one.integration_s)
        if u > NEGLIGIBLE
    )
    return one._replace(influences=(*one.influences, *added)) if added else one


@lru_cache(maxsize=1024)
def relative_beats(flicker: Flicker, integration_s: float) -> tuple[tuple[str, float], ...]:
    """Standard uncertainty of one reading from each beat, as a share of its light."""
    found = []
    if flicker.refresh_hz and flicker.refresh_depth:
        bound = max(sine_bound(flicker.refresh_depth, flicker.refresh_hz, t) for t in _around(integration_s))
        found.append((REFRESH, bound / math.sqrt(2.0)))
    if flicker.dimming_hz and flicker.dimming_duty:
        lowest = flicker.dimming_duty
        duties = [lowest + (1.0 - lowest) * index / DUTIES for index in range(DUTIES)]
        bound = max(
            abs(end)
            for t in _around(integration_s)
            for duty in duties
            for end in pulse_extremes(duty, flicker.dimming_hz, t)
        )
        found.append((DIMMING, bound / math.sqrt(3.0)))
    return tuple(found)


def _around(integration_s: float) -> tuple[float, float, float]:
    return integration_s * (1.0 - RATE_U), integration_s, integration_s * (1.0 + RATE_U)
