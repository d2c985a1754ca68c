"""Figures judged by a curve through a black that is only a bound: their intervals hold for every black it allows.

The figure itself is that of a black of zero. Curves through black (BT.1886, the GSDF) change fast near zero, so the
blacks between are tried in equal steps of the signal that they stand for, and the interval reaches from the lowest to
the highest end that any of them gives. Our own rule: wide, and never narrower than the bound allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from benchd.analysis.colour.tracking import BlackCase
from benchd.analysis.results import DeltaE, StepColour
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.widened import holding
from benchd.measurements.grayscale.results import GrayStep

BETWEEN = 3
"""How many blacks between zero and the bound are tried."""
WELL_KNOWN = 0.05
"""A black with a smaller relative uncertainty moves the curve in proportion."""
EXPONENT = 2.4
"""Of BT.1886: equal steps of signal near black."""

Judged = tuple[tuple[GrayStep, ...], tuple[DeltaE, ...]]


def blacks_between(cases: Sequence[BlackCase]) -> list[BlackCase]:
    """Blacks between the two of ``cases``, zero and the bound."""
    bound = cases[1].cd_m2 or 0.0
    shares = [(index / (BETWEEN + 1)) ** EXPONENT for index in range(1, BETWEEN + 1)]
    return [BlackCase(cases[0].words, share * bound) for share in shares]


def ends_of_black(case: BlackCase, black: Quantity) -> list[BlackCase]:
    """Blacks at and between the ends of a black's interval; none where it is well known, or no value."""
    interval = black.interval
    if case.cd_m2 is None or not black.plain or interval is None:
        return []
    low, high = interval
    if high - low <= 2.0 * WELL_KNOWN * case.cd_m2:
        return []
    return [BlackCase(case.words, one) for one in (low, (low + case.cd_m2) / 2.0, (case.cd_m2 + high) / 2.0, high)]


def for_every_black(first: Judged, others: Sequence[Judged], *, whole: bool = True) -> Judged:
    """The steps and averages of ``first``, their intervals wide enough for all ``others``.

    ``whole``: for the intervals of the others; else for their values alone, where the interval of ``first`` already
    holds the uncertainty of black to first order.
    """
    steps = tuple(_step(one, [other[0][i] for other in others], whole) for i, one in enumerate(first[0]))
    averages = tuple(_average(one, [other[1][i] for other in others], whole) for i, one in enumerate(first[1]))
    return steps, averages


def _step(one: GrayStep, others: Sequence[GrayStep], whole: bool) -> GrayStep:
    absolute = one.delta_e.absolute
    return replace(
        one,
        target_luminance=_wide(one.target_luminance, [other.target_luminance for other in others], whole),
        luminance_error=_wide(one.luminance_error, [other.luminance_error for other in others], whole),
        delta_e=StepColour(
            _wide(one.delta_e.white_luminance, [other.delta_e.white_luminance for other in others], whole),
            _wide(one.delta_e.white_measured, [other.delta_e.white_measured for other in others], whole),
            absolute and _wide(absolute, [each for other in others if (each := other.delta_e.absolute)], whole),
        ),
    )


def _average(one: DeltaE, others: Sequence[DeltaE], whole: bool) -> DeltaE:
    return replace(
        one,
        mean=_wide(one.mean, [other.mean for other in others], whole),
        median=_wide(one.median, [other.median for other in others], whole),
        percentile_95=_wide(one.percentile_95, [other.percentile_95 for other in others], whole),
        maximum=_wide(one.maximum, [other.maximum for other in others], whole),
    )


def _wide(one: Quantity, others: Sequence[Quantity], whole: bool) -> Quantity:
    """``one`` with an interval that holds ``others`` too; as it was where it holds them already."""
    if one.bound == "below":
        return one._replace(value=max(other.value or 0.0 for other in (one, *others) if other.bound == "below"))
    several = [other.interval if whole else (other.value, other.value) for other in others if other.value is not None]
    return holding(one, [end for ends in several if ends is not None for end in ends])
