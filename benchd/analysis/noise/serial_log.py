"""The serial correlation of the readings of a log: where it is known from, and what it does to its steps.

It is known from the consecutive readings at the end of a warm-up (`benchd.run.procedures.consecutive`), else from a
series over time whose light is steady. Without either, readings count as independent, and the budget says so.

Where noise lasts longer than a change of patch, the mean of a step is off in the same direction as that of the step
before. In units of their own standard uncertainties the two have the correlation c = sum of r(t_j - t_i) over both
steps' readings / (n m sqrt(V V')). The noise of a step is then c times that of the step before and sqrt(1 - c^2) times
one of its own, as for a first-order process: what is common adds up in a mean of many steps and goes out of a ratio.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from benchd.analysis.noise.reading_noise import WarmUpNoise
from benchd.analysis.noise.serial import (
    CorrelationCurve,
    EffectiveReadings,
    Serial,
    SerialCorrelation,
    from_warm_up,
    unbiased,
)
from benchd.analysis.uncertainty.sources import Source
from benchd.autocorrelation import FEWEST, autocorrelation

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import SeriesReading, StepData


CHARACTERISATION_SPACING_S = 0.1
"""From one reading of a warm-up characterisation to the next (`benchd.run.adaptive.warm_up_characterisation`)."""
SMALLEST_SHARE_LEFT = 0.01
CLEAR = 3.0
"""Standard deviations of r by chance."""
EVEN = 0.05
"""Share by which the spacing of a series may vary."""
STEADY = 3.0
"""Standard errors by which the halves of a series may differ and still be the same light."""


def serial_of(done: Mapping[str, Any] | None, series: Iterable[Sequence[SeriesReading]]) -> Serial | None:
    """From the ``done`` of a warm-up's consecutive readings, or from the first series that it can be estimated from."""
    found = from_warm_up((done or {}).get("serial"), int((done or {}).get("readings") or 0))
    for readings in series if found is None else ():
        found = found or _of_series(readings)
    return found


def _of_series(readings: Sequence[SeriesReading]) -> Serial | None:
    """Of its evenly spaced end."""
    figures = [(one.after_s, one.xyz) for one in readings if one.xyz is not None and one.xyz[1] > 0.0]
    gaps = [b - a for (a, _), (b, _) in pairwise(figures)]
    if len(gaps) < FEWEST:
        return None
    from statistics import median  # most logs have no such series, and its import costs more than their noise

    spacing_s = median(gaps[-FEWEST:])
    even = next((k for k, gap in enumerate(reversed(gaps)) if abs(gap - spacing_s) > EVEN * spacing_s), len(gaps))
    last = [xyz for _, xyz in figures[len(figures) - even - 1 :]]
    channels = [[y for _, y, _ in last], [x / y for x, y, _ in last], [z / y for _, y, z in last]]
    found = [autocorrelation(values, spacing_s) for values in channels]
    light = found[0]
    if light is None or not _is_steady(channels[0], light.memory):
        return None
    colour = max((one for one in found[1:] if one is not None), key=lambda one: one.memory, default=light)
    source = f"{len(last)} readings of a series over time"
    return Serial(CorrelationCurve(light.lags, light.readings), CorrelationCurve(colour.lags, colour.readings), source)


def _is_steady(values: Sequence[float], memory: float) -> bool:
    from statistics import fmean

    half = len(values) // 2
    one, other = fmean(values[:half]), fmean(values[half:])
    variance = fmean((value - one) ** 2 for value in values[:half]) + fmean(
        (value - other) ** 2 for value in values[half:]
    )
    return abs(one - other) <= STEADY * math.sqrt(variance / half * max(1.0, memory))


def with_serial_correlation(measured: Mapping[str, StepData], serial: Serial | None) -> dict[str, StepData]:
    """The steps with the covariance that independent readings would have, and their `SerialCorrelation`."""
    if serial is None or not serial.counts:
        return dict(measured)
    found: dict[str, StepData] = {}
    for step, one in measured.items():
        found[step] = one
        if one.mean is None or (one.figures > 1 and not one.spacing_s):
            continue
        correlation = serial.of(one.figures, one.spacing_s or 0.0)
        covariance = None if one.covariance is None else unbiased(one.covariance, one.mean, correlation)
        found[step] = one._replace(covariance=covariance, serial=correlation)
    return found


def decorrelated(warm_up: Sequence[WarmUpNoise], serial: Serial | None) -> list[WarmUpNoise]:
    """The noise of a warm-up characterisation, which is of differences of neighbours, so that 1 - r of it is left.

    Its readings are shorter than those that r was estimated from, so only an r that is clear is carried over to them.
    """
    if serial is None or not serial.counts:
        return list(warm_up)
    left = [max(SMALLEST_SHARE_LEFT, 1.0 - _clear(curve)) for curve in serial[:2]]
    correlation = SerialCorrelation(
        EffectiveReadings(1.0, left[0], 1.0, 1.0), EffectiveReadings(1.0, left[1], 1.0, 1.0)
    )
    return [one._replace(covariance=unbiased(one.covariance, one.mean, correlation)) for one in warm_up]


def _clear(curve: CorrelationCurve) -> float:
    """r at the spacing of a characterisation where that of the first lag is far beyond chance; else 0."""
    if curve.lags[0].r <= CLEAR / math.sqrt(curve.readings):
        return 0.0
    return float(curve.at(np.array([CHARACTERISATION_SPACING_S]))[0][0])


def serial_results(serial: Serial | None) -> dict[str, Any]:
    """For the results: what is known, by lag in seconds."""
    if serial is None:
        return {"known": False}
    return {
        "known": True,
        "counts": serial.counts,
        "source": serial.source,
        "luminance": [list(lag) for lag in serial.luminance.lags],
        "colour": [list(lag) for lag in serial.colour.lags],
    }


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
