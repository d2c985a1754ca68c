"""Readings of luminance alone: X and Z are not numbers, so that no figure of colour can be made of them.

What the noise, the meter and its resolution do to their luminance is what they would do to a white's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchd.analysis.uncertainty.sources import WHITE_XYZ, Triple, Vectors

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData

WHY = "only luminance was given"


def is_luminance_alone(xyz: Triple | None) -> bool:
    """True where the light has a luminance and no colour."""
    return xyz is not None and not math.isfinite(xyz[0] + xyz[2]) and math.isfinite(xyz[1])


def triple(xyz: Sequence[float | None]) -> Triple:
    """X, Y, Z of a log's reading; null is no number."""
    x, y, z = (math.nan if one is None else one for one in xyz)
    return x, y, z


def as_white(measured: StepData) -> StepData:
    """A step of luminance alone as if it were a white's; any other as it is."""
    if not is_luminance_alone(measured.mean):
        return measured
    assert measured.mean is not None
    luminance, (x, y, z) = measured.mean[1], WHITE_XYZ
    covariance = None
    if measured.covariance is not None:
        s2 = measured.covariance[1]
        covariance = s2 * x * x, s2 * y * y, s2 * z * z, s2 * x * y, s2 * x * z, s2 * y * z
    return measured._replace(mean=(x * luminance, luminance, z * luminance), covariance=covariance)


def of_luminance(vectors: Vectors) -> Vectors:
    """The same sources as far as they move luminance."""
    return [(source, (0.0, y, 0.0)) for source, (_, y, _) in vectors if y]
