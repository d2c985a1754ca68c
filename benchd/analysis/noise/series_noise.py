"""The standard deviation of the readings of a series, apart from the light that changes under them. Pure.

A bright window may lose half of its light within a second. What is left of five neighbouring readings beside a cubic
curve through them (divided differences of the fourth order) is the readings' own, whatever slope and bend the light
has; the few groups of five in which the light changed faster than that are left out. Method after J. von
Neumann, Ann. Math. Stat. 12 (1941) 367, for first differences (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import fsum, prod, sqrt
from typing import NamedTuple

from benchd.analysis.uncertainty.sources import Covariance, Triple

ORDER = 4
FEWEST = 8
"""Groups of five readings from which it is known."""
PER_FIVE = 0.38
"""Degrees of freedom of each group, C(8, 4)^2 / C(16, 8): neighbours share four readings (tests simulate it)."""
QUARTILE, FARTHEST = 1.1503, 4.0
"""Upper quartile of |x| of a normal x in standard deviations; so many of these a group of five may be off and count."""


class SeriesNoise(NamedTuple):
    """``relative``: covariance XX, YY, ZZ, XY, XZ, YZ of single readings, each over its mean; ``dof`` of it."""

    relative: Covariance
    dof: int

    def covariance(self, xyz: Triple) -> Covariance:
        """At this light, (cd/m2)^2."""
        x, y, z = xyz
        xx, yy, zz, xy, xz, yz = self.relative
        return xx * x * x, yy * y * y, zz * z * z, xy * x * y, xz * x * z, yz * y * z


def series_noise(middles_s: Sequence[float], figures: Sequence[Triple]) -> SeriesNoise | None:
    """From readings of X, Y, Z in cd/m2 and their times in s, in order; None where they are too few."""
    left = []
    for first in range(len(figures) - ORDER):
        part, times = figures[first : first + ORDER + 1], middles_s[first : first + ORDER + 1]
        if min(min(one) for one in part) > 0.0 and all(a < b for a, b in pairwise(times)):
            left.append(_beside_cubic(times, part))
    if len(left) < FEWEST:
        return None
    sizes = sorted(abs(one[1]) for one in left)
    limit = FARTHEST * sizes[(3 * len(sizes)) // 4] / QUARTILE
    kept = [one for one in left if abs(one[1]) <= limit]

    def moment(i: int, j: int) -> float:
        return fsum(one[i] * one[j] for one in kept) / len(kept)

    relative = (moment(0, 0), moment(1, 1), moment(2, 2), moment(0, 1), moment(0, 2), moment(1, 2))
    return SeriesNoise(relative, max(1, int(PER_FIVE * len(kept))))


def _beside_cubic(times: Sequence[float], part: Sequence[Triple]) -> Triple:
    """X, Y, Z beside a cubic curve, over their means, as if each were the error of one reading."""
    weights = [1.0 / prod(t - other for other in times if other != t) for t in times]
    size = sqrt(fsum(weight * weight for weight in weights))
    x, y, z = (
        fsum(weight * one[axis] for weight, one in zip(weights, part, strict=True))
        / (size * fsum(one[axis] for one in part) / len(part))
        for axis in range(3)
    )
    return x, y, z
