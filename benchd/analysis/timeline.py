"""Readings over time: means over a second, the light at a moment, and when it fell below a share of its best."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import fsum, inf

from benchd.analysis.luminance import LUMINANCE_UNIT, MeterRange, luminance_of
from benchd.analysis.quantity import Quantity, absent, composed
from benchd.analysis.survey import Covariance, Measured, SeriesReading, Triple

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
    early = [one for one in readings if one.after_s < BEST_WITHIN_S]
    best: Sequence[SeriesReading] = ()
    highest, last_s = -inf, max((end_s(one) for one in early), default=0.0)
    for index, first in enumerate(early):
        if best and first.after_s + SECOND_S > last_s + SLACK_S and end_s(first) - first.after_s < SECOND_S:
            break
        inside = [one for one in early[index:] if end_s(one) <= first.after_s + SECOND_S + SLACK_S] or [first]
        mean = fsum(level(one) for one in inside) / len(inside)
        if mean > highest:
            best, highest = inside, mean
    return best


def around(readings: Sequence[SeriesReading], moment_s: float) -> Sequence[SeriesReading]:
    """The readings within half a second of a moment, or the one nearest to it; none where none is near."""
    near = [one for one in readings if abs(middle_s(one) - moment_s) <= SECOND_S / 2.0]
    if near:
        return near
    nearest = min(readings, key=lambda one: abs(middle_s(one) - moment_s), default=None)
    if nearest is None or abs(middle_s(nearest) - moment_s) > max(0.1 * moment_s, 1.5):
        return ()
    return (nearest,)


def mean_of(step: Measured, readings: Sequence[SeriesReading], name: str, meter: MeterRange) -> Quantity:
    """Luminance of some readings of a step: its bounds and its uncertainty as of any patch. ``name`` tells which."""
    if not readings:
        return absent(LUMINANCE_UNIT, "no reading at that time", step.records)
    figures = [one.xyz for one in readings if one.xyz is not None]
    mean, covariance = _moments(figures)
    integrations = [one.integration_s for one in readings]
    part = step._replace(
        step=f"{step.step} {name}",
        n=len(readings),
        figures=len(figures),
        mean=mean,
        covariance=covariance,
        under=sum(one.status == "under" for one in readings),
        over=sum(one.status == "over" for one in readings),
        unstable=0,  # a light that changes is what is measured here
        records=((readings[0].seq, readings[-1].seq),),
        integration_s=None if None in integrations else min(one for one in integrations if one is not None),
    )
    return luminance_of(part, meter)


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


FEWEST = 5
"""Readings that tell their scatter from the change of the light."""


def _moments(figures: Sequence[Triple]) -> tuple[Triple | None, Covariance | None]:
    """Mean, and the covariance of single readings apart from a change of the light: from second differences.

    The difference of a reading from the middle of its neighbours has 6/4 of the variance of one (J. von Neumann,
    Ann. Math. Stat. 12 (1941), for first differences; from memory), whatever steady slope the light has.
    """
    n = len(figures)
    if not n:
        return None, None
    x, y, z = (fsum(one[axis] for one in figures) / n for axis in range(3))
    if n < FEWEST:
        return (x, y, z), None
    bends = [
        [before[axis] - 2.0 * here[axis] + after[axis] for axis in range(3)]
        for before, here, after in zip(figures, figures[1:], figures[2:], strict=False)
    ]

    def moment(i: int, j: int) -> float:
        return fsum(one[i] * one[j] for one in bends) / (6.0 * len(bends))

    return (x, y, z), (moment(0, 0), moment(1, 1), moment(2, 2), moment(0, 1), moment(0, 2), moment(1, 2))
