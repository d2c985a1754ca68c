"""The meter model of a whole log, shared by all its steps: what was stated of the meter, and the noise of readings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from benchd.analysis.log.luminance_only import as_white, is_luminance_alone, of_luminance
from benchd.analysis.meter_model.correction_source import CorrectionSource
from benchd.analysis.meter_model.resolution import Resolution
from benchd.analysis.meter_model.stated_sources import BenchSource, MeterBudget
from benchd.analysis.noise.reading_noise import NoiseModel, WarmUpNoise, fitted_noise, moderated
from benchd.analysis.noise.serial import Serial
from benchd.analysis.noise.serial_log import Links, links, noise_of
from benchd.analysis.noise.step_sources import BetweenRuns, between
from benchd.analysis.uncertainty.sources import Source, Vectors, lower_triangle

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData

MAX_KEPT = 4096
OFFSET = "mean of "
"""What the names of the sources of an offset that was taken off begin with."""


@dataclass(slots=True)
class Metrology:
    """Filled in once the log is read; steps keep a reference, so that nothing is computed before it is needed.

    ``reference``  budget of the meter that this one was corrected against
    ``serial``     correlation of consecutive readings; None where it is not known
    ``between``    variance between repeats beyond the readings, where the log's repeats show it
    ``links``      what neighbouring steps have in common
    """

    budget: MeterBudget | None = None
    noise: NoiseModel | None = None
    reference: MeterBudget | None = None
    correction: CorrectionSource | None = None
    resolution: Resolution | None = None
    serial: Serial | None = None
    bench: BenchSource | None = None
    between: BetweenRuns | None = None
    links: Links = field(default_factory=dict, compare=False)
    _dofs: dict[str, float] = field(default_factory=dict, compare=False)  # of the noise of the steps that are linked
    _kept: dict[int, tuple[StepData, Vectors | None]] = field(default_factory=dict, compare=False)

    def fit_noise(self, several: Sequence[StepData], warm_up: Sequence[WarmUpNoise] = ()) -> None:
        """Fit the noise of single readings to all steps and to what the warm-up characterisation found."""
        self.noise = fitted_noise(several, warm_up, self.resolution)
        self._kept.clear()

    def link(self, measured: Mapping[str, StepData]) -> None:
        """Find what the noise of neighbouring steps has in common; after `fit_noise`."""
        self.links = links(measured, self.serial)
        for step in {*self.links, *(link.before for link in self.links.values())}:
            found = reading_covariance(measured[step], self.noise, self.resolution)
            if found is not None:
                self._dofs[step] = found[1]
        self._kept.clear()

    def compare_repeats(self, groups: Iterable[Sequence[StepData]]) -> None:
        """Find the variance between repeats of one patch beyond that of their readings; after compensation."""
        self.between = between(groups)
        self._kept.clear()

    def vectors(self, measured: StepData) -> Vectors | None:
        """For each source the change of the step's X, Y, Z; None where the noise is not known."""
        kept = self._kept.get(id(measured))
        if kept is not None and kept[0] is measured:
            return kept[1]
        if len(self._kept) >= MAX_KEPT:
            self._kept.clear()
        found = self._worked_out(as_white(measured))
        if found is not None and is_luminance_alone(measured.mean):
            found = of_luminance(found)
        self._kept[id(measured)] = (measured, found)
        return found

    def _worked_out(self, measured: StepData) -> Vectors | None:
        budget = self.budget
        if budget is not None and self.bench is not None and self.bench.placement:
            budget = budget._replace(placement=0.0)  # what was measured takes the place of what was stated
        if budget is not None and is_net(measured):
            budget = budget._replace(zero_cd_m2=0.0)  # it was in the offset too, and went with it
        found = vectors_of(measured, budget, self.noise, self.resolution)
        if found is None or measured.mean is None:
            return found
        if measured.step in self.links:
            found = self._linked(found, measured.step)
        if self.bench is not None:
            found = [*found, *self.bench.vectors(measured.mean, placing_of(measured))]
        if self.between is not None:
            found = [*found, *self.between.vectors(measured.mean, measured.step)]
        if self.reference is not None:
            found = [*found, *self.reference.vectors(measured.mean, "")]
        if self.correction is not None:
            found = [*found, *self.correction.vectors(measured.mean)]
        return found

    def _linked(self, found: Vectors, step: str) -> Vectors:
        """The noise of a step's readings as what it has from the steps before, and its own."""
        linked: Vectors = []
        for source, (x, y, z) in found:
            own = source.name == f"readings of {step}"
            shares = noise_of(step, source.part, self._dofs, self.links) if own else [(source, 1.0)]
            linked += [(one, (share * x, share * y, share * z)) for one, share in shares]
        return linked


def is_net(measured: StepData) -> bool:
    """True for a step that an offset was taken off: what is left of the meter's zero is the drift between."""
    return any(source.name.startswith(OFFSET) for source, _ in measured.influences)


def is_noise(source: Source, step: str) -> bool:
    """True for what moves the readings of a step and not those of all steps: their noise and its own influences."""
    return source.name.startswith("readings of ") or source.name.endswith(f" of {step}")


def placing_of(measured: StepData) -> str:
    """Which placing of the meter a step was read in."""
    return f"{measured.placing} at {measured.place}"


def serial_factor(measured: StepData, part: int) -> float:
    """Standard uncertainty of a step's mean over that of independent readings; ``part`` 0: of the luminance."""
    if measured.serial is None:
        return 1.0
    found = measured.serial.colour if part else measured.serial.luminance
    return math.sqrt(measured.figures * found.mean) * found.wider


def reading_covariance(
    measured: StepData, noise: NoiseModel | None, resolution: Resolution | None
) -> tuple[list[list[float]], float] | None:
    """Covariance of single readings of a step, and its degrees of freedom; None where it is not known."""
    if measured.mean is None or measured.figures == 0:
        return None
    return moderated(measured.covariance, measured.own_dof, measured.mean, measured.integration_s, noise, resolution)


def vectors_of(
    measured: StepData, budget: MeterBudget | None, noise: NoiseModel | None, resolution: Resolution | None = None
) -> Vectors | None:
    """Noise of the mean (type A) as three parts, what was stated of the meter (type B), and other influences.

    Where the meter's resolution makes more than the noise, it takes its place (`meter_model.resolution`).

    The parts of the noise are the columns of the Cholesky factor of the covariance of the mean in the order Y, X,
    Z: independent of each other, the first is all of the luminance's.
    """
    noise_of_readings = reading_covariance(measured, noise, resolution)
    if measured.mean is None or noise_of_readings is None:
        return None
    found: Vectors = []
    covariance: Sequence[Sequence[float]]
    covariance, dof = noise_of_readings
    if resolution is not None:
        factors = serial_factor(measured, 0), serial_factor(measured, 1)
        covariance, found = resolution.larger(measured.mean, covariance, dof, measured.figures, measured.step, factors)
    order = (1, 0, 2)
    factor = lower_triangle([[covariance[i][j] / measured.figures for j in order] for i in order])
    name = f"readings of {measured.step}"
    for part in range(3):
        worth = serial_factor(measured, part)
        y, x, z = (worth * factor[row][part] for row in range(3))
        if x or y or z:
            found.append((Source(name, dof, part), (x, y, z)))
    if budget is not None:
        found += budget.vectors(measured.mean, placing_of(measured))
    return [*found, *measured.influences]
