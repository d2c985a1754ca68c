"""The variance of single readings as a function of their light, fitted to all steps of a log together.

Three readings determine their own standard deviation poorly: Student's factor for two degrees of freedom is 4.3. All
steps of a log together determine it well. The fit is of the relative variance of Y and of the ratios X / Y and Z / Y
(where one scale fluctuates for all channels, colour varies far less than light and would be lost in its variance). The
variance of single readings is

    Y       A / Y^2 + B / Y + C
    X / Y   A (1 / X^2 + 1 / Y^2) + B (1 / X + 1 / Y) + C,  Z / Y likewise, covariances as Y

(dark noise, shot noise, fluctuation of the scale: the law u_rep^2 = s0^2 + (a sqrt L)^2 + (r L)^2 of common practice,
for three channels), divided by the integration time where the log has it. Then each step's own covariance is drawn
towards the fit with the weight that the steps' agreement with the fit deserves: moderated variances after
Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004), article 3 (from memory). Where steps agree with the law, the
fit counts; where they do not, each counts for itself. A step far noisier than the law stands alone always.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from benchd.analysis.log.luminance_only import as_white
from benchd.analysis.uncertainty.sources import Covariance, Triple, full
from benchd.distributions import chi_square_quantile

if TYPE_CHECKING:
    from benchd.analysis.log.step_data import StepData
    from benchd.analysis.meter_model.resolution import Resolution

PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
"""Of Y, X / Y, Z / Y: variances first."""

FLAT = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
"""Of X, Y, Z: the order of a step's covariance."""

FEWEST_STEPS = 8
FEWEST_DOF = 12
"""Fewer, and the fit follows the chance of single steps (with 9 the largest difference of greys held 89 %, not 94 %);
more, and steps of two readings stand alone, whose interval beside what is stated of the meter holds too little."""
KNOWN_DOF = 60
"""Degrees of freedom from which on fewer steps do, near their own light, where patches were read once."""
NEAR = 10.0
"""Factor on luminance within which they do; the run goes by the same (`benchd.run.adaptive.learned.NEAR`)."""
MAX_STEPS = 4096
"""Steps that the fit looks at, evenly picked: more would not make it better."""
OUTLIER = 0.9995
RELATIVE_ROUNDING = 1e-9
SMALLEST_VARIANCE = 1e-100
"""Relative: far below any that occurs, and its square is still a number to divide by."""
ROUNDS = 6

Coefficients = tuple[float, float, float]


class NoiseModel(NamedTuple):
    """The fit: A, B, C for each of `PAIRS`; whether it is per second of integration; what it is worth, in d.o.f.

    ``near``: luminances near which alone it holds, in cd/m2; empty where it was fitted to enough steps for all.
    """

    fits: tuple[Coefficients, ...]
    timed: bool
    dof: float
    near: tuple[float, ...] = ()

    def covariance(self, xyz: Triple, integration_s: float | None) -> list[list[float]] | None:
        """Covariance of X, Y, Z of single readings; None where it is not known.

        That is without light, where a time is needed and there is none, or away from ``near``.
        """
        if min(xyz) <= 0.0 or (self.timed and not integration_s):
            return None
        x, y, z = xyz
        if self.near and not any(1.0 / NEAR <= y / level <= NEAR for level in self.near):
            return None
        seconds = integration_s if self.timed and integration_s else 1.0
        relative = [[0.0] * 3 for _ in range(3)]
        for (i, j), fit in zip(PAIRS, self.fits, strict=True):
            terms = _terms(i, j, x, y, z)
            value = sum(factor * term for factor, term in zip(fit, terms, strict=True)) / seconds
            relative[i][j] = relative[j][i] = value
        return _of_xyz(_possible(relative), xyz)


def _terms(i: int, j: int, x: Any, y: Any, z: Any) -> tuple[Any, Any, Any]:
    """What A, B and C stand before, for numbers or arrays."""
    if i == j and i > 0:
        other = x if i == 1 else z
        return 1.0 / other**2 + 1.0 / y**2, 1.0 / other + 1.0 / y, 1.0 + 0.0 * y
    return 1.0 / y**2, 1.0 / y, 1.0 + 0.0 * y


def _of_xyz(relative: list[list[float]], xyz: Triple) -> list[list[float]]:
    """From Y, X / Y, Z / Y, all relative, to X, Y, Z."""
    x, y, z = xyz
    ways = ((x, x, 0.0), (y, 0.0, 0.0), (z, 0.0, z))
    return [
        [sum(one[a] * other[b] * relative[a][b] for a in range(3) for b in range(3)) for other in ways] for one in ways
    ]


def _possible(matrix: list[list[float]]) -> list[list[float]]:
    """The same with correlations drawn towards none until it can be a covariance."""
    for _ in range(20):
        a, b, c = matrix[0][0], matrix[1][1], matrix[2][2]
        ab, ac, bc = matrix[0][1], matrix[0][2], matrix[1][2]
        whole = a * (b * c - bc * bc) - ab * (ab * c - bc * ac) + ac * (ab * bc - b * ac)
        if a * b >= ab * ab and a * c >= ac * ac and b * c >= bc * bc and whole >= 0.0:
            break
        matrix = [[matrix[i][j] * (1.0 if i == j else 0.8) for j in range(3)] for i in range(3)]
    return matrix


def moderated(
    covariance: Sequence[float] | None,
    dof: float,
    xyz: Triple,
    integration_s: float | None,
    model: NoiseModel | None,
    resolution: Resolution | None = None,
) -> tuple[list[list[float]], float] | None:
    """Covariance of single readings of one step and its degrees of freedom; None where it is not known.

    ``covariance`` is the step's own with ``dof`` degrees of freedom: XX, YY, ZZ, XY, XZ, YZ. A variance that the
    rounding of the meter's ``resolution`` explains does not make a step stand alone.
    """
    own = None if covariance is None else full(covariance)
    pool = None if model is None else model.covariance(xyz, integration_s)
    if model is None or pool is None:
        return None if own is None else (own, float(dof))
    if own is None:
        return pool, model.dof
    limit = _limit(dof)
    if any(own[i][i] > limit * pool[i][i] for i in range(3)):
        rounding = [[0.0] * 3] * 3 if resolution is None else resolution.covariance(xyz)
        if any(own[i][i] > limit * (pool[i][i] + rounding[i][i]) for i in range(3)):
            return own, float(dof)
    both = model.dof + dof
    return [[(model.dof * pool[i][j] + dof * own[i][j]) / both for j in range(3)] for i in range(3)], both


def _limit(dof: float) -> float:
    """Sample variance over the true one that chance hardly exceeds."""
    whole = max(1, int(dof))
    return chi_square_quantile(OUTLIER, whole) / whole


class WarmUpNoise(NamedTuple):
    """The noise that a part of the warm-up characterisation found, in the form of a step: of readings of one second."""

    mean: Triple
    covariance: Covariance
    figures: int
    integration_s: float = 1.0
    unstable: int = 0

    @property
    def own_dof(self) -> float:
        """Degrees of freedom of its covariance."""
        return float(self.figures - 1)


def characterisation_noise(characterisations: Iterable[Mapping[str, Any]]) -> list[WarmUpNoise]:
    """From the characterisations in the ``done`` of a warm-up."""
    found = [
        WarmUpNoise(tuple(one["xyz"]), tuple(one["xyz_per_second"]), 1 + int(one["scatter"][0][2]))
        for one in characterisations
        if "xyz_per_second" in one and one["scatter"]
    ]
    return [one for one in found if one.figures > 1]


def fitted_noise(
    several: Sequence[StepData], warm_up: Sequence[WarmUpNoise] = (), resolution: Resolution | None = None
) -> NoiseModel | None:
    """The model of a log's steps; None where they are too few, or no readings of one light ever differed.

    ``warm_up``: the noise that its characterisation found, which counts beside steps whose integration time is known;
    where those are most, the others are left out. A step that was read once has its noise from the model alone.

    The variance of rounded readings is known no better than that of their rounding: a step whose readings are all equal
    must not count as one that is known to be free of noise. A ratio that never varies is rounded, and has none.
    """
    usable: list[StepData | WarmUpNoise] = [as_white(one) for one in several if one.covariance is not None]
    timely = [one for one in usable if one.integration_s]
    if warm_up or 2 * len(timely) >= len(usable):
        usable = [*timely, *warm_up]
    usable = [one for one in usable if one.mean is not None and not one.unstable and min(one.mean) > 0.0]
    usable = usable[:: max(1, len(usable) // MAX_STEPS)]
    dofs = np.array([one.own_dof for one in usable], dtype=np.float64)
    few = len(usable) < FEWEST_STEPS
    read_once = any(one.figures == 1 for one in several)
    if not usable or (few and not read_once) or dofs.sum() < (KNOWN_DOF if few else FEWEST_DOF):
        return None
    x, y, z = np.array([one.mean for one in usable], dtype=np.float64).T
    timed = all(one.integration_s for one in usable)
    seconds = np.array([one.integration_s if timed else 1.0 for one in usable], dtype=np.float64)
    found = _relative(np.array([one.covariance for one in usable], dtype=np.float64), x, y, z) * seconds
    # Less is rounding of numbers, not noise of light.
    varies = found[:3].mean(axis=1) > RELATIVE_ROUNDING**2
    if not (varies.all() or (varies[0] and resolution is not None)):
        return None
    lowest = np.zeros_like(found[:3])
    if resolution is not None:
        rounding = [resolution.covariance(one.mean) for one in usable if one.mean is not None]
        flat = np.array([[one[i][j] for i, j in FLAT] for one in rounding], dtype=np.float64)
        lowest = _relative(flat, x, y, z)[:3] * seconds
    fits, ratios, errors = [], [], []
    for own, (i, j) in zip(found, PAIRS, strict=True):
        terms = np.stack(_terms(i, j, x, y, z), axis=1)
        if i == j:
            fit = _variance_fit(terms, own, dofs, lowest[i])
            if varies[i] and not fit.any():
                return None  # no law of this form: the noise near zero may be unlike any other
            errors.append(np.maximum(terms @ fit, np.maximum(lowest[i], SMALLEST_VARIANCE)))
            if varies[i]:
                ratios.append(own / errors[i])
        elif not (varies[i] and varies[j]):
            fit = np.zeros(3)
        else:
            fit = _weighted(terms, own, dofs / (errors[i] * errors[j]))
        fits.append((float(fit[0]), float(fit[1]), float(fit[2])))
    dof = min(float(dofs.sum()), _prior_dof(np.array(ratios), dofs))
    return NoiseModel(tuple(fits), timed, dof, tuple(y.tolist()) if few else ())


def _relative(covariances: Any, x: Any, y: Any, z: Any) -> Any:
    """Relative covariances of Y, X / Y, Z / Y in the order of `PAIRS` (6, n) from those of X, Y, Z (n, 6)."""
    xx, yy, zz, xy, xz, yz = covariances.T
    xx, yy, zz, xy, xz, yz = xx / x**2, yy / y**2, zz / z**2, xy / (x * y), xz / (x * z), yz / (y * z)
    return np.stack([yy, xx - 2.0 * xy + yy, zz - 2.0 * yz + yy, xy - yy, yz - yy, xz - xy - yz + yy])


def _variance_fit(terms: Any, found: Any, dofs: Any, lowest: Any) -> Any:
    """Coefficients >= 0 of the variance, by least squares with the weights of the fit itself (var s^2 ~ sigma^4).

    No variance counts as better known than the ``lowest``.
    """
    # The first weights: as if all noise were shot noise.
    expected = terms[:, 1]
    fit = np.zeros(3)
    for _ in range(ROUNDS):
        fit = _not_negative(terms, found, dofs / expected**2)
        expected = np.maximum(terms @ fit, np.maximum(lowest, expected.max() * 1e-12))
    return fit


def _not_negative(terms: Any, found: Any, weights: Any) -> Any:
    """The best fit without a negative coefficient: all seven choices of terms are tried."""
    best, lowest = np.zeros(3), math.inf
    for choice in ((0, 1, 2), (0, 1), (0, 2), (1, 2), (0,), (1,), (2,)):
        fit = np.zeros(3)
        fit[list(choice)] = _weighted(terms[:, choice], found, weights)
        cost = float((weights * (terms @ fit - found) ** 2).sum())
        if (fit >= 0.0).all() and fit.any() and cost < lowest * (1.0 - 1e-9):
            best, lowest = fit, cost
    return best


def _weighted(terms: Any, found: Any, weights: Any) -> Any:
    root = np.sqrt(weights)
    scaled = terms * root[:, None]
    size = np.maximum(np.sqrt((scaled**2).sum(axis=0)), 1e-300)  # columns of equal size: dark and bright differ by 1e12
    fit, *_ = np.linalg.lstsq(scaled / size, found * root, rcond=1e-9)
    return fit / size


def _prior_dof(ratios: Any, dofs: Any) -> float:
    """Degrees of freedom that the fit is worth for one step: 2 over the variance of the true ratio about 1.

    The ratios of own variance to fit vary by 2 / dof from the few readings alone; what is more is the steps' own.
    """
    weights = dofs / dofs.sum()
    # The largest are outliers, which stand alone in any case: they must not devalue the fit of all others.
    limits = {dof: _limit(dof) for dof in set(dofs.tolist())}  # `np.unique` imports masked arrays, which takes 12 ms
    kept = np.minimum(ratios, np.array([limits[dof] for dof in dofs.tolist()]))
    spread = ((kept - 1.0) ** 2 * weights).sum(axis=1).mean()
    own = float((2.0 / dofs * weights).sum())
    excess = float(spread) - own
    return 2.0 * (1.0 + own) / excess if excess > 0.0 else math.inf
