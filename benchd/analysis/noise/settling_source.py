"""What settling is left in the mean of a patch that was read to a precision, as a source of its uncertainty.

The run keeps in ``done`` the standard uncertainty of it in luminance (`adaptive.reached.settling_left`), and how much
of it goes the same way in all patches of the panel: below the end after a rise, above it after a fall. That part is one
source for the whole log, with its sign, so that it adds up in a ratio of a patch that rose and one that fell.

What is left is light of the patch before: a share of the change from it. So its luminance moves the patch's own X, Y, Z
alike, and what the colour of the patch before differs by moves them by the same share, independently of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from benchd.analysis.uncertainty.sources import Source, Triple, Vectors

SETTLING = "settling of "
"""What the names of these sources begin with."""
COMMON = Source(SETTLING + "the panel", math.inf)


def settling_of(step: str, precision: Mapping[str, Any], mean: Triple | None, before: Triple | None) -> Vectors:
    """The sources for X, Y, Z in cd/m2; none where nothing is left, or where the log holds none.

    ``precision``: what ``done`` keeps of it; ``mean``: of the step; ``before``: of the step done before it.
    """
    left, common = (float(precision.get(f"settling_{name}_cd_m2") or 0.0) for name in ("u", "common"))
    if mean is None or left <= 0.0 or mean[1] <= 0.0:
        return []
    x, y, z = mean
    own = math.sqrt(max(left * left - common * common, 0.0))
    source = Source(SETTLING + step, math.inf)
    parts = [(COMMON, common), (source, own)]
    found: Vectors = [(one, (size * x / y, size, size * z / y)) for one, size in parts if size]
    change = sum(float(part) for part in precision.get("settling", {}).get("change", ())[:2])
    if before is not None and change > 0.0:
        share, ratio = min(left / change, 1.0), before[1] / y
        colour = share * (before[0] - ratio * x), 0.0, share * (before[2] - ratio * z)
        if any(colour):
            found.append((source._replace(part=1), colour))
    return found
