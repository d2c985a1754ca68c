"""Sources of a step's uncertainty beside the noise of its readings: repeats of one patch, and settling that is left.

Repeats: readings of one step follow each other within seconds; what changes more slowly does not show in them. Where a
log has the same patch several times, the variance of the steps' means about their common mean is compared with what the
readings alone explain (analysis of variance, ISO 5725-2; from memory). Where it is significantly more, the difference
is a source of its own in every step. What chance explains adds nothing.

Settling: the run keeps in ``done`` the standard uncertainty of what is left in luminance
(`adaptive.reached.settling_left`), and how much of it goes the same way in all patches of the panel: below the end
after a rise, above it after a fall. That part is one source for the whole log, with its sign, so that it adds up in a
ratio of a patch that rose and one that fell. What is left is light of the patch before: a share of the change from it.
So its luminance moves the patch's own X, Y, Z alike, and what the colour of the patch before differs by moves them by
the same share, independently of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from benchd.analysis.uncertainty.sources import Source, Triple, Vectors
from benchd.distributions import chi_square_quantile

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData


SIGNIFICANT = 0.99
OF_READINGS = ("readings of", "resolution of")
"""What the names of the sources of a step's own readings begin with."""


class BetweenRuns(NamedTuple):
    """Relative standard deviation of a step's light between repeats, beyond its readings; its degrees of freedom."""

    relative: float
    dof: float

    def vectors(self, xyz: Triple, step: str) -> Vectors:
        """One source of the step's own, on all of its light."""
        x, y, z = (self.relative * value for value in xyz)
        return [(Source(f"repeats of {step}", self.dof), (x, y, z))]


def between(groups: Iterable[Sequence[StepData]]) -> BetweenRuns | None:
    """From the steps in ``groups``, each of one patch; None where their readings explain how unlike they are."""
    observed = expected = 0.0
    dof = 0
    for group in groups:
        lights = [(one.mean[1], _own(one)) for one in group if one.mean is not None and one.mean[1] > 0.0]
        if len(lights) < 2:
            continue
        middle = math.fsum(light for light, _ in lights) / len(lights)
        observed += math.fsum((light / middle - 1.0) ** 2 for light, _ in lights)
        expected += (len(lights) - 1) * math.fsum((own / middle) ** 2 for _, own in lights) / len(lights)
        dof += len(lights) - 1
    if not dof or not expected or observed <= expected * chi_square_quantile(SIGNIFICANT, dof) / dof:
        return None
    return BetweenRuns(math.sqrt((observed - expected) / dof), float(dof))


def _own(measured: StepData) -> float:
    """Standard uncertainty of the mean of Y from its readings alone."""
    found = measured.vectors() or []
    return math.sqrt(math.fsum(y * y for source, (_, y, _) in found if source.name.startswith(OF_READINGS)))


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
