"""Readings over time: means over a second, the light at a moment, and when it fell below a share of its best."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import fsum, inf, sqrt
from typing import NamedTuple

from benchd.analysis.log.step_data import SeriesReading, StepData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, luminance_of
from benchd.analysis.noise.series_noise import SeriesNoise, series_noise
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed, with_note
from benchd.analysis.uncertainty.sources import LEVEL, NORMAL, Fixed, Source, Triple
from benchd.distributions import normal_quantile

TREND_UNIT = "%/s"
FRAME_S = 1.0 / 50.0
"""What a patch may be earlier or later than the times of its readings: a frame of 50 Hz (common practice)."""
RIVAL = 3.0
"""Standard deviations of a second's mean within which another second may truly be the best."""

SECOND_S = 1.0
BEST_WITHIN_S = 10.0
SLACK_S = 0.05
"""What a meter's own clock may add to a second."""


def middle_s(reading: SeriesReading) -> float:
    """The middle of a reading, seconds from the patch."""
    return reading.after_s + (reading.integration_s or 0.0) / 2.0


def end_s(reading: SeriesReading) -> float:
    """The end of a reading, seconds from the patch."""
    return reading.after_s + (reading.integration_s or 0.0)


def level(reading: SeriesReading) -> float:
    """Luminance in cd/m2; endless where the meter was over its range, 0 where it saw nothing."""
    if reading.status == "over":
        return inf
    return 0.0 if reading.xyz is None else reading.xyz[1]


def best_second(readings: Sequence[SeriesReading]) -> Sequence[SeriesReading]:
    """The readings that lie within one second and have the highest mean, in the first ten seconds.

    Every second begins with a reading and is read to its end: half a second would win by its noise. A reading that
    takes longer than a second stands alone.
    """
    return max(_seconds(readings), key=_mean_level, default=())


def rivals(readings: Sequence[SeriesReading], best: Sequence[SeriesReading]) -> int:
    """Of how many seconds the best one was picked: those whose mean noise may have kept below it."""
    noise = noise_of(readings)
    if noise is None or not best:
        return 1
    lowest = _mean_level(best) * (1.0 - RIVAL * sqrt(2.0 * noise.relative[1] / len(best)))
    return sum(_mean_level(one) >= lowest for one in _seconds(readings))


def _seconds(readings: Sequence[SeriesReading]) -> list[Sequence[SeriesReading]]:
    """The readings within each second of the first ten that begins with a reading."""
    early = [one for one in readings if one.after_s < BEST_WITHIN_S]
    found: list[Sequence[SeriesReading]] = []
    last_s = max((end_s(one) for one in early), default=0.0)
    for index, first in enumerate(early):
        if found and first.after_s + SECOND_S > last_s + SLACK_S and end_s(first) - first.after_s < SECOND_S:
            break
        found.append([one for one in early[index:] if end_s(one) <= first.after_s + SECOND_S + SLACK_S] or [first])
    return found


def _mean_level(readings: Sequence[SeriesReading]) -> float:
    return fsum(level(one) for one in readings) / len(readings)


def around(readings: Sequence[SeriesReading], moment_s: float) -> Sequence[SeriesReading]:
    """The readings within half a second of a moment, or the one nearest to it; none where none is near."""
    if near := [one for one in readings if abs(middle_s(one) - moment_s) <= SECOND_S / 2.0]:
        return near
    nearest = sorted(readings, key=lambda one: abs(middle_s(one) - moment_s))[:1]
    return tuple(one for one in nearest if abs(middle_s(one) - moment_s) <= max(0.1 * moment_s, 1.5))


def moments_of(
    step: StepData,
    readings: Sequence[SeriesReading],
    chosen: Sequence[SeriesReading],
    middle_of_s: float | None,
    name: str,
    meter: MeterRange,
    picked_of: int = 1,
) -> tuple[Quantity, Quantity]:
    """Mean light of the ``chosen`` of all ``readings`` of a step, as of any patch, and its trend in % of it a second.

    The light may change while it is read: that is its trend, and no standard deviation of readings. What a trend makes
    of the time of the patch, and of a difference between the middle of the readings and the moment that they stand for
    (``middle_of_s`` from the patch; None: that middle), are sources of their own. ``name``: which readings they are,
    ``picked_of`` how many others they were picked from as the highest.
    """
    if not chosen:
        gone = absent(LUMINANCE_UNIT, "no reading at that time", step.records)
        return gone, absent(TREND_UNIT, gone.why, step.records)
    figures = [one.xyz for one in chosen if one.xyz is not None]
    noise = noise_of(readings)
    mean: Triple | None = None
    if figures:
        x, y, z = (fsum(one[axis] for one in figures) / len(figures) for axis in range(3))
        mean = x, y, z
    slope = _slope(readings, chosen)
    influences = [*step.influences]
    if slope is not None:
        off_s = 0.0 if middle_of_s is None else fsum(middle_s(one) for one in chosen) / len(chosen) - middle_of_s
        late = (FRAME_S, f"time of {step.step}"), (off_s, f"time of {step.step} {name}")
        for off_s, source in late:
            x, y, z = (part * off_s / sqrt(3.0) for part in slope.xyz)
            influences += [(Source(source), (x, y, z))] if off_s else []
    if picked_of > 1 and noise is not None and mean is not None:
        influences.append(_picked(f"highest of several seconds of {step.step}", picked_of, len(figures), mean, noise))
    integrations = [one.integration_s for one in chosen]
    part = step._replace(
        step=f"{step.step} {name}",
        n=len(chosen),
        figures=len(figures),
        mean=mean,
        covariance=noise.covariance(mean) if noise is not None and mean is not None else None,
        dof=noise.dof if noise is not None and mean is not None else None,
        under=sum(one.status == "under" for one in chosen),
        over=sum(one.status == "over" for one in chosen),
        unstable=0,  # a light that changes is what is measured here
        records=((chosen[0].seq, chosen[-1].seq),),
        integration_s=None if None in integrations else min(one for one in integrations if one is not None),
        influences=tuple(influences),
    )
    light = luminance_of(part, meter)
    if noise is None and light.plain and light.u is None:
        light = with_note(light, "too few readings over time, so their standard deviation is not known")
    return light, _trend(part, light, slope, noise)


def _picked(name: str, of: int, n: int, mean: Triple, noise: SeriesNoise) -> tuple[Source, Triple]:
    """What a mean of ``n`` readings is less sure by because it was the highest ``of`` so many (after Bonferroni)."""
    z = normal_quantile(1.0 - (1.0 - LEVEL) / 2.0 / of)
    u = sqrt(noise.relative[1] / n * ((z / NORMAL) ** 2 - 1.0))
    return Source(name, float(noise.dof)), (u * mean[0], u * mean[1], u * mean[2])


def noise_of(readings: Sequence[SeriesReading]) -> SeriesNoise | None:
    """Of single readings of a series; None where it is not known."""
    seen = [(middle_s(one), one.xyz) for one in readings if one.xyz is not None and one.status != "over"]
    return series_noise([at for at, _ in seen], [xyz for _, xyz in seen])


class _Slope(NamedTuple):
    """Of X, Y, Z, cd/m2 a second; ``per_u``: standard uncertainty of it for one of 1 cd/m2 of a single reading."""

    xyz: Triple
    per_u: float


def _slope(readings: Sequence[SeriesReading], chosen: Sequence[SeriesReading]) -> _Slope | None:
    """Of the straight line through the chosen readings; of one or two, with their neighbours. None where none is."""
    at = readings.index(chosen[0])
    used = readings[max(0, at - 1) : at + len(chosen) + 1] if len(chosen) < 3 else chosen
    points = [(middle_s(one), one.xyz) for one in used if one.xyz is not None]
    middle = fsum(t for t, _ in points) / max(1, len(points))
    below = fsum((t - middle) ** 2 for t, _ in points)
    if not below:  # fewer than two readings, or all at one time
        return None
    x, y, z = (fsum((t - middle) * xyz[axis] for t, xyz in points) / below for axis in range(3))
    return _Slope((x, y, z), 1.0 / sqrt(below))


def _trend(part: StepData, light: Quantity, slope: _Slope | None, noise: SeriesNoise | None) -> Quantity:
    """% a second, with the standard deviation of the readings as its only source: the meter's scale cancels."""
    if slope is None or not light.plain or not light.value:
        return absent(TREND_UNIT, light.why or "one reading alone has no trend", part.records)
    value = 100.0 * slope.xyz[1] / light.value
    if noise is None:
        return Quantity(value, TREND_UNIT, part.n, records=part.records)
    u = 100.0 * sqrt(noise.relative[1]) * slope.per_u
    sources = Fixed(((Source(f"readings of {part.step}", float(noise.dof)), u),))
    return Quantity(value, TREND_UNIT, part.n, records=part.records, sources=sources)


def first_below(readings: Sequence[SeriesReading], best: Quantity, share: float) -> Quantity:
    """When the light fell below ``share`` of its best and stayed there for two readings, seconds from the patch."""
    if best.value is None or best.bound is not None:
        return absent("s", best.why or "its best is only a bound", best.records)
    limit = share * best.value
    for first, second in pairwise(readings):
        if level(first) < limit and level(second) < limit:
            return composed(middle_s(first), "s", [best])
    last = max((middle_s(one) for one in readings), default=0.0)
    return absent("s", f"it stayed above {100 * share:g} % for all of {last:.0f} s", best.records)
