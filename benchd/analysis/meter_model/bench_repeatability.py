"""How well a bench repeats itself: the same plan run again and again, the meter left in place or put on anew. Pure.

Terms and formulae after ISO 5725-1 and -2 (from memory), a placement of the meter in the place of a laboratory:

- repeatability standard deviation s_r: between runs of one placement
- between-placement standard deviation s_L: what putting the meter on anew adds
- reproducibility standard deviation s_R = sqrt(s_r^2 + s_L^2)
- limits r = 2.8 s_r and R = 2.8 s_R: two single runs differ by more in 5 % of cases

For the uncertainty of later runs the same analysis is made of the light itself (`repeatability_of`): as one covariance
of the relative changes of X, Y, Z between runs, without what the noise of single readings explains, and one between
placements. They are taken as common to all colours above 1 cd/m2 (common practice), which is what a meter that stands a
little differently and a display that has drifted do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.correction import Matrix, matrix_of
from benchd.analysis.uncertainty.sources import full

LIMIT = 2.8
"""1.96 times the root of 2, as ISO 5725-6 rounds it (from memory)."""
BRIGHT_CD_M2 = 1.0


@dataclass(frozen=True, slots=True)
class Precision:
    """One-way analysis of variance of one figure, in its unit.

    ``s_r``, ``dof_r``  None with one run a placement; ``s_l`` None with one placement; ``s_R`` then s_r alone is known
    ``s_R``, ``dof_R``  None with one placement; degrees of freedom after Satterthwaite
    """

    mean: float
    runs: int
    placements: int
    s_r: float | None
    dof_r: int
    s_l: float | None
    s_R: float | None
    dof_R: float | None

    @property
    def limit_r(self) -> float | None:
        """Repeatability limit r."""
        return None if self.s_r is None else LIMIT * self.s_r

    @property
    def limit_R(self) -> float | None:
        """Reproducibility limit R."""
        return None if self.s_R is None else LIMIT * self.s_R


def precision(groups: Sequence[Sequence[float]]) -> Precision:
    """Analyse one figure; ``groups``: its value in each run, a group for each placement.

    Raises ValueError where there is nothing to compare: fewer than two runs, or an empty group.
    """
    sizes = [len(group) for group in groups]
    runs, placements = sum(sizes), len(groups)
    if runs < 2 or 0 in sizes:
        raise ValueError("two runs at least are needed, and one in each placement")
    means = [math.fsum(group) / len(group) for group in groups]
    mean = math.fsum(math.fsum(group) for group in groups) / runs
    dof_r = runs - placements
    within = math.fsum((one - m) ** 2 for group, m in zip(groups, means, strict=True) for one in group)
    s_r = math.sqrt(within / dof_r) if dof_r else None
    if placements == 1:
        return Precision(mean, runs, placements, s_r, dof_r, None, None, None)
    between = math.fsum(n * (m - mean) ** 2 for n, m in zip(sizes, means, strict=True)) / (placements - 1)
    if s_r is None:
        return Precision(mean, runs, placements, None, 0, None, math.sqrt(between), placements - 1.0)
    n = typical_size(sizes)
    variance_l = max(0.0, (between - s_r**2) / n)
    variance_R = variance_l + s_r**2
    if variance_l > 0.0:
        spread = (between / n) ** 2 / (placements - 1) + ((1.0 - 1.0 / n) * s_r**2) ** 2 / dof_r
    else:  # nothing between the placements but what is between runs
        spread = variance_R**2 / dof_r
    dof = variance_R**2 / spread if spread > 0.0 else float(dof_r)
    return Precision(mean, runs, placements, s_r, dof_r, math.sqrt(variance_l), math.sqrt(variance_R), dof)


def typical_size(sizes: Sequence[int]) -> float:
    """The mean size of a group that the between-group mean square goes with (ISO 5725-2, 7.4.5, from memory)."""
    runs = sum(sizes)
    return (runs - sum(n * n for n in sizes) / runs) / (len(sizes) - 1)


@dataclass(frozen=True, slots=True)
class BenchRepeatability:
    """Covariances of the relative changes of X, Y, Z; None where the runs do not determine it.

    ``between_runs``  of one placement, beyond what the noise of single readings explains
    ``placement``     what putting the meter on anew adds
    ``steps``         how many bright patches were averaged
    """

    between_runs: Matrix | None
    between_runs_dof: int
    placement: Matrix | None
    placement_dof: int
    steps: int


def repeatability_of(groups: Sequence[Sequence[Sequence[StepData]]]) -> BenchRepeatability:
    """From the steps of every run, a group of runs for each placement; only steps that are bright in every run count.

    Raises ValueError when no such step is there, or fewer than two runs.
    """
    by_step = [[{one.step: one for one in run} for run in group] for group in groups]
    runs = [run for group in by_step for run in group]
    if len(runs) < 2:
        raise ValueError("two runs at least are needed")
    names = [name for name in runs[0] if all(_bright(run.get(name)) for run in runs)]
    if not names:
        raise ValueError("no patch above 1 cd/m2 was read in every run")
    sizes = [len(group) for group in by_step]
    within, between, readings = np.zeros((3, 3)), np.zeros((3, 3)), np.zeros((3, 3))
    dof_runs, dof_placements = len(runs) - len(groups), len(groups) - 1
    for name in names:
        logs = [np.log([_mean(run[name]) for run in group]) for group in by_step]
        grand = np.concatenate(logs).mean(axis=0)
        for group in logs:
            inside = group - group.mean(axis=0)
            within += inside.T @ inside
            outside = group.mean(axis=0) - grand
            between += len(group) * np.outer(outside, outside)
        readings += sum((_of_mean(run[name]) for run in runs), np.zeros((3, 3))) / len(runs)
    readings /= len(names)
    own = placed = None
    if dof_runs:
        within /= dof_runs * len(names)
        own = matrix_of(_possible(within - readings))
    if dof_placements:
        between /= dof_placements * len(names)
        inside = within if dof_runs else readings
        placed = matrix_of(_possible((between - inside) / typical_size(sizes)))
    return BenchRepeatability(own, dof_runs, placed, dof_placements, len(names))


def _bright(measured: StepData | None) -> bool:
    if measured is None or measured.mean is None or measured.under or measured.over:
        return False
    return measured.mean[1] >= BRIGHT_CD_M2 and min(measured.mean) > 0.0


def _mean(measured: StepData) -> tuple[float, float, float]:
    assert measured.mean is not None
    return measured.mean


def _of_mean(measured: StepData) -> Array:
    """Relative covariance of the mean from that of the readings; nothing where that is not known."""
    if measured.covariance is None:
        return np.zeros((3, 3))
    mean = np.array(_mean(measured))
    return np.array(full(measured.covariance)) / measured.figures / np.outer(mean, mean)


def _possible(matrix: Array) -> Array:
    """The nearest covariance: a difference of two of them may have negative variances by chance."""
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2.0)
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)
