"""What settling is left in the mean of a patch that was read to a precision, as a source of its uncertainty.

The run keeps in ``done`` the standard uncertainty of it in luminance (`benchd.run.reached.settling_u_cd_m2`). What is
left is light of the patch before: a share of the change from it. So its luminance moves the patch's own X, Y, Z alike,
and what the colour of the patch before differs by moves them by the same share, independently of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from benchd.analysis.uncertainty import Source, Triple, Vectors

SETTLING = "settling of "
"""What the names of these sources begin with."""


def settling_of(step: str, told: Mapping[str, Any], mean: Triple | None, before: Triple | None) -> Vectors:
    """The sources for X, Y, Z in cd/m2; none where nothing is left, or where the log does not say.

    ``told``: what ``done`` says of the precision; ``mean``: of the step; ``before``: of the step done before it.
    """
    left = float(told.get("settling_u_cd_m2") or 0.0)
    if mean is None or left <= 0.0 or mean[1] <= 0.0:
        return []
    x, y, z = mean
    source = Source(SETTLING + step, math.inf)
    found: Vectors = [(source, (left * x / y, left, left * z / y))]
    change = sum(float(part) for part in told.get("settling", {}).get("change", ())[:2])
    if before is not None and change > 0.0:
        share, ratio = min(left / change, 1.0), before[1] / y
        colour = share * (before[0] - ratio * x), 0.0, share * (before[2] - ratio * z)
        if any(colour):
            found.append((source._replace(part=1), colour))
    return found
