"""The scatter of single readings as a function of their light, learnt from all steps of a log together.

Three readings tell their own scatter badly: Student's factor for two degrees of freedom is 4.3. All steps of
a log together tell it well. For each pair of channels the covariance of single readings is fitted as

    e(i, j) = A(i, j) + B(i, j) sqrt(V_i V_j) + C(i, j) V_i V_j

(dark noise, shot noise, scatter of the scale: the law u_rep^2 = s0^2 + (a sqrt L)^2 + (r L)^2 of common practice,
for three channels), times the integration time where the log has it. Then each step's own covariance is drawn
towards the fit with the weight that the steps' agreement with the fit deserves: moderated variances after
Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004), article 3 (from memory). Where steps scatter as the law says, the
fit counts; where they do not, each counts for itself. A step far noisier than the law stands alone always.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from benchd.analysis.student import normal_quantile
from benchd.analysis.uncertainty import Triple

if TYPE_CHECKING:
    from benchd.analysis.survey import Measured

PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
"""The order of `Covariance`: XX, YY, ZZ, XY, XZ, YZ."""

FEWEST_STEPS = 8
FEWEST_DOF = 16
MOST_STEPS = 4096
"""Steps that the fit looks at, evenly picked: more would not make it better."""
OUTLIER = 0.9995
RELATIVE_ROUNDING = 1e-9
ROUNDS = 6

Matrix = tuple[Triple, Triple, Triple]


class NoiseModel(NamedTuple):
    """The fit: three matrices, whether it is per second of integration, and its weight in degrees of freedom."""

    constant: Matrix
    shot: Matrix
    scale: Matrix
    timed: bool
    dof: float

    def covariance(self, xyz: Triple, integration_s: float | None) -> list[list[float]] | None:
        """Covariance of single readings at X, Y, Z; None where it needs a time and there is none."""
        if self.timed and not integration_s:
            return None
        root = [math.sqrt(max(value, 0.0)) for value in xyz]
        seconds = integration_s if self.timed and integration_s else 1.0
        return [
            [
                (
                    self.constant[i][j]
                    + self.shot[i][j] * root[i] * root[j]
                    + self.scale[i][j] * root[i] ** 2 * root[j] ** 2
                )
                / seconds
                for j in range(3)
            ]
            for i in range(3)
        ]


def moderated(
    covariance: Sequence[float] | None, dof: int, xyz: Triple, integration_s: float | None, model: NoiseModel | None
) -> tuple[list[list[float]], float] | None:
    """Covariance of single readings of one step and its degrees of freedom; None where nothing tells it.

    ``covariance`` is the step's own with ``dof`` degrees of freedom, in the order of `PAIRS`.
    """
    own = None if covariance is None else full(covariance)
    pool = None if model is None else model.covariance(xyz, integration_s)
    if model is None or pool is None:
        return None if own is None else (own, float(dof))
    if own is None:
        return pool, model.dof
    limit = _chi_square_quantile(OUTLIER, dof) / dof
    if any(own[i][i] > limit * pool[i][i] for i in range(3)):
        return own, float(dof)
    both = model.dof + dof
    return [[(model.dof * pool[i][j] + dof * own[i][j]) / both for j in range(3)] for i in range(3)], both


def full(covariance: Sequence[float]) -> list[list[float]]:
    """The symmetrical matrix of six numbers in the order of `PAIRS`."""
    xx, yy, zz, xy, xz, yz = covariance
    return [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]


def learnt(several: Sequence[Measured]) -> NoiseModel | None:
    """The model of a log's steps; None where they are too few, or no light ever scattered."""
    usable = [one for one in several if one.covariance is not None and one.mean is not None and not one.unstable]
    usable = usable[:: max(1, len(usable) // MOST_STEPS)]
    dofs = np.array([one.figures - 1 for one in usable], dtype=np.float64)
    if len(usable) < FEWEST_STEPS or dofs.sum() < FEWEST_DOF:
        return None
    light = np.maximum(np.array([one.mean for one in usable], dtype=np.float64), 0.0)
    found = np.array([one.covariance for one in usable], dtype=np.float64)
    timed = all(one.integration_s for one in usable)
    if timed:
        found = found * np.array([one.integration_s for one in usable], dtype=np.float64)[:, None]
    # Less is rounding of numbers, not scatter of light.
    if not (found[:, :3].sum(axis=0) > RELATIVE_ROUNDING**2 * (light**2).sum(axis=0)).all():
        return None
    fits = np.zeros((3, 3, 3))  # term, channel, channel
    ratios, errors = [], np.empty((len(usable), 3))
    for index, (i, j) in enumerate(PAIRS):
        level = np.sqrt(light[:, i] * light[:, j])
        terms = np.stack([np.ones_like(level), level, level * level], axis=1)
        if i == j:
            fit = _variance_fit(terms, found[:, index], dofs)
            errors[:, i] = terms @ fit
            ratios.append(found[:, index] / errors[:, i])
        else:
            fit = _weighted(terms, found[:, index], dofs / (errors[:, i] * errors[:, j]))
        fits[:, i, j] = fits[:, j, i] = fit
    matrices = [_positive(fit) for fit in fits]
    dof = min(float(dofs.sum()), _prior_dof(np.array(ratios), dofs))
    return NoiseModel(matrices[0], matrices[1], matrices[2], timed, dof)


def _variance_fit(terms: Any, found: Any, dofs: Any) -> Any:
    """Coefficients >= 0 of the variance, by least squares with the weights of the fit itself (var s^2 ~ sigma^4)."""
    # The first weights: as if the scatter were in proportion to the light, with a floor.
    guess = np.maximum(found, found.mean() * 1e-6)
    expected = terms @ _weighted(terms, guess, dofs / np.maximum(terms[:, 2], terms[:, 2].max() * 1e-9) ** 2)
    expected = np.where(expected > 0.0, expected, guess.mean())
    fit = np.zeros(3)
    for _ in range(ROUNDS):
        fit = _not_negative(terms, found, dofs / expected**2)
        expected = np.maximum(terms @ fit, expected.max() * 1e-12)
    return fit


def _not_negative(terms: Any, found: Any, weights: Any) -> Any:
    """The best fit without a negative coefficient: all seven choices of terms are tried."""
    best, least = np.zeros(3), math.inf
    for choice in ((0, 1, 2), (0, 1), (0, 2), (1, 2), (0,), (1,), (2,)):
        fit = np.zeros(3)
        fit[list(choice)] = _weighted(terms[:, choice], found, weights)
        cost = float((weights * (terms @ fit - found) ** 2).sum())
        if (fit >= 0.0).all() and fit.any() and cost < least * (1.0 - 1e-9):
            best, least = fit, cost
    return best


def _weighted(terms: Any, found: Any, weights: Any) -> Any:
    root = np.sqrt(weights)
    scaled = terms * root[:, None]
    size = np.maximum(np.sqrt((scaled**2).sum(axis=0)), 1e-300)  # columns of equal size: dark and bright differ by 1e12
    fit, *_ = np.linalg.lstsq(scaled / size, found * root, rcond=1e-9)
    return fit / size


def _positive(matrix: Any) -> Matrix:
    """The nearest matrix that can be a covariance: correlations beyond the possible are cut."""
    scale = np.sqrt(np.maximum(np.diag(matrix), 0.0))
    safe = np.where(scale > 0.0, scale, 1.0)
    correlation = np.where(np.outer(scale, scale) > 0.0, matrix / np.outer(safe, safe), 0.0)
    np.fill_diagonal(correlation, (scale > 0.0).astype(float))
    values, vectors = np.linalg.eigh(correlation)
    mended = (vectors * np.maximum(values, 0.0)) @ vectors.T
    size = np.sqrt(np.maximum(np.diag(mended), 1e-300))
    mended = mended / np.outer(size, size) * np.outer(scale, scale)
    a, b, c = ((float(row[0]), float(row[1]), float(row[2])) for row in mended)
    return a, b, c


def _prior_dof(ratios: Any, dofs: Any) -> float:
    """Degrees of freedom that the fit is worth for one step: 2 over the variance of the true ratio about 1.

    The ratios of own variance to fit vary by 2 / dof from the few readings alone; what is more is the steps' own.
    """
    weights = dofs / dofs.sum()
    # The largest are outliers, which stand alone in any case: they must not devalue the fit of all others.
    limits = np.array([_chi_square_quantile(OUTLIER, int(dof)) / dof for dof in np.unique(dofs)])
    allowed = limits[np.searchsorted(np.unique(dofs), dofs)]
    kept = np.minimum(ratios, allowed)
    spread = ((kept - 1.0) ** 2 * weights).sum(axis=1).mean()
    own = float((2.0 / dofs * weights).sum())
    excess = float(spread) - own
    return 2.0 * (1.0 + own) / excess if excess > 0.0 else math.inf


def _chi_square_quantile(p: float, dof: int) -> float:
    """By Wilson and Hilferty's cube root (from memory), good to a few per cent: enough for a threshold."""
    share = 2.0 / (9.0 * dof)
    return dof * (1.0 - share + normal_quantile(p) * math.sqrt(share)) ** 3
