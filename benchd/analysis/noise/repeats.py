"""Variance between repeats: the same patch, shown again later, differs by more than its readings do.

Readings of one step follow each other within seconds; what changes more slowly does not show in them. Where a log has
the same patch several times, the variance of the steps' means about their common mean is compared with what the
readings alone explain (analysis of variance, ISO 5725-2; from memory). Where it is significantly more, the difference
is a source of its own in every step. What chance explains adds nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

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
