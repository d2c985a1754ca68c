"""Light that swings faster than a warm-up reads it: pairs of readings spread over a minute.

One reading a minute sees nothing of a light that swings three times a minute. So the last minutes hold pairs of
readings, one right after the other: two of a pair differ by the meter's noise, the means of the pairs by what swings,
too. Their spacing follows the golden ratio, so that no period is hidden by a regular one. Pure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

PAIRS = 8
AT_S = tuple(sorted(60.0 * ((number + 1) * (math.sqrt(5.0) - 1.0) / 2.0 % 1.0) for number in range(PAIRS)))
"""When in the minute, in seconds."""
SEEN = 3.09
"""Normal deviate from which on a swing is seen: one false alarm in a thousand."""
LAST_DIGIT = 2e-5
"""Relative standard deviation that no reading falls below."""


class Swing(NamedTuple):
    """From lowest to highest, relative to the mean luminance, as of a sine; ``seen``: beyond the noise of readings."""

    peak_to_peak: float
    seen: bool


def swing_of(pairs: Sequence[tuple[float, float]]) -> Swing | None:
    """What the pairs at `AT_S` show; None without all of them, or without light.

    The slope over the minute is taken off. The ratio of the variances is held against Fisher's distribution by the
    approximation of Paulson (Ann. Math. Statist. 13, 1942, 233, from memory).
    """
    mean = sum(one + other for one, other in pairs) / max(1, 2 * len(pairs))
    if len(pairs) != PAIRS or mean <= 0.0:
        return None
    middles = [(one + other) / 2.0 / mean for one, other in pairs]
    noise = sum(((one - other) / mean) ** 2 for one, other in pairs) / 2.0 / PAIRS + LAST_DIGIT**2
    at = sum(AT_S) / PAIRS
    square = sum((when - at) ** 2 for when in AT_S)
    slope = sum((when - at) * value for when, value in zip(AT_S, middles, strict=True)) / square
    level = sum(middles) / PAIRS
    left = sum((value - level - slope * (when - at)) ** 2 for when, value in zip(AT_S, middles, strict=True))
    between, freedom = left / (PAIRS - 2), (PAIRS - 2.0, float(PAIRS))
    swings = max(between - noise / 2.0, 0.0)
    return Swing(2.0 * math.sqrt(2.0 * swings), _deviate(between / (noise / 2.0), *freedom) > SEEN)


def _deviate(ratio: float, top_dof: float, bottom_dof: float) -> float:
    """Normal deviate as probable as a ratio of variances."""
    root, top, bottom = math.cbrt(ratio), 2.0 / (9.0 * top_dof), 2.0 / (9.0 * bottom_dof)
    return ((1.0 - bottom) * root - (1.0 - top)) / math.sqrt(bottom * root * root + top)
