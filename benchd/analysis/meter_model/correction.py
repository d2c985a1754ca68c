"""A meter's correction for one display technology: a matrix from paired readings with a reference meter. Pure.

- `four_colour`: from the chromaticities of red, green, blue and white, so that a display whose luminance swings
  between the two sittings does no harm. Method after Ohno and Hardis (1997), Four-color matrix method for
  correction of tristimulus colorimeters, Proc. IS&T Fifth Color Imaging Conference, 301-305
- `least_squares`: from the tristimulus values of three colours or more. Method after ASTM E1455

Both hold for additive displays of the technology, mode and meter that the readings were taken with.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.uncertainty.sources import Covariance, Triple, full
from benchd.errors import InputError

Matrix = tuple[Triple, Triple, Triple]
Rows = tuple[tuple[float, ...], ...]
Method = Literal["four-colour", "least-squares"]

COLOURS = ("R", "G", "B", "W")
"""What the four-colour method needs, by these names."""
LARGEST_CONDITION = 1e4
"""Above this the colours are so alike that noise decides the matrix."""


class Light(NamedTuple):
    """Mean of one meter's readings of one colour.

    ``xyz``         in cd/m2
    ``covariance``  of the mean: XX, YY, ZZ, XY, XZ, YZ in (cd/m2)^2; None where it is not known
    ``dof``         degrees of freedom of it
    """

    xyz: Triple
    covariance: Covariance | None = None
    dof: int = 0


class Pair(NamedTuple):
    """One colour, read by the reference meter and by the meter that is to be corrected."""

    name: str
    reference: Light
    meter: Light

    @property
    def lights(self) -> tuple[Light, Light]:
        """Of the reference meter, and of the meter."""
        return self.reference, self.meter


@dataclass(frozen=True, slots=True)
class Residual:
    """What is left of one colour: corrected reading minus reference; before: raw reading minus reference."""

    name: str
    delta_uv: float  # distance in u'v'
    luminance_percent: float
    delta_uv_before: float
    luminance_percent_before: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A correction: corrected XYZ = ``matrix`` · XYZ of the meter.

    ``chromaticity``      the matrix before the luminance factor (four-colour method), else None
    ``luminance_factor``  kY; 1 where luminance is left as the meter reads it, and with least squares, which has no
                          factor of its own: its matrix takes the reference's luminance as it takes its colour
    ``covariance``        9 x 9, of the matrix row by row, from the standard deviation of the readings and from the
                          placement of both meters; None where the former is not known
    ``dof``               degrees of freedom of both; 0 where there is no covariance
    ``placement_percent`` standard uncertainty of luminance from the placement that is part of the covariance; or None
    """

    method: Method
    matrix: Matrix
    chromaticity: Matrix | None
    luminance_factor: float
    covariance: Rows | None
    dof: int
    residuals: tuple[Residual, ...]
    placement_percent: float | None = None


class Placement(NamedTuple):
    """How sure a meter stands where it was put for its sitting: one error for all colours of it.

    ``covariance``  3 x 3, of relative changes of X, Y, Z
    ``dof``         degrees of freedom of it
    """

    covariance: Array
    dof: float = math.inf


def fit(
    pairs: Sequence[Pair],
    method: Method,
    *,
    luminance: bool = True,
    placements: tuple[Placement, Placement] | None = None,
) -> Fit:
    """The correction that ``pairs`` make, with residuals and the covariance of the matrix.

    ``luminance`` (four-colour method only): white is also to read the reference's luminance. ``placements``: of the
    reference meter and of the meter, each at its one sitting; None: not known here, so not part of the covariance.
    Raises `InputError` for missing colours, for readings that are not above zero, for colours too alike, and for least
    squares without luminance.
    """
    if method == "least-squares" and not luminance:
        raise InputError(
            "least squares takes luminance from the reference meter, as it takes colour; to leave luminance as the "
            "meter reads it use --method four-colour"
        )
    for pair in pairs:
        for light in pair.lights:
            if not (all(np.isfinite(light.xyz)) and light.xyz[1] > 0.0 and sum(light.xyz) > 0.0):
                raise InputError(f"the reading of {pair.name} is not above zero, so nothing can be corrected by it")
    if method == "four-colour":
        _refuse_missing(pairs)
    # With four colours the others only show how well it fits.
    used = [pair for pair in pairs if method != "four-colour" or pair.name in COLOURS]
    solve = _solver(method, [pair.name for pair in used], luminance)
    reference, meter = (np.array([pair.lights[side].xyz for pair in used], dtype=float) for side in (0, 1))
    _refuse_alike(meter, used)
    matrix = solve(reference, meter)
    whole = matrix_of(matrix)
    chromaticity, factor = None, 1.0
    if method == "four-colour":
        chromaticity = matrix_of(_solver(method, [pair.name for pair in used], False)(reference, meter))
        factor = float(matrix[1, 0] / chromaticity[1][0]) if luminance else 1.0
    covariance, dof = _covariance(solve, used, reference, meter)
    placed: float | None = None
    if covariance is not None and placements is not None:
        covariance = _with_placements(covariance, solve, placements, reference, meter)
        of_luminance = [100.0 * math.sqrt(one.covariance[1, 1]) for one in placements]
        placed = math.hypot(*of_luminance)
        dof = int(min([dof, *(one.dof for one, u in zip(placements, of_luminance, strict=True) if u)]))
    left = tuple(_residual(whole, pair) for pair in pairs)
    return Fit(method, whole, chromaticity, factor, covariance, dof, left, placed)


def four_colour_matrix(reference: Array, meter: Array) -> Array:
    """R of the four-colour method from chromaticities: both (4, 2) arrays of x, y of R, G, B, W; returns 3 x 3."""
    primaries_r, primaries_m = primary_matrix(reference)[0], primary_matrix(meter)[0]
    return np.asarray(primaries_r @ np.linalg.inv(primaries_m))


def primary_matrix(xy: Array) -> tuple[Array, Array]:
    """P and k of one meter: the primaries as columns, scaled so that they add to white. ``xy``: (4, 2), R, G, B, W."""
    columns = np.column_stack([xy[:, 0], xy[:, 1], 1.0 - xy[:, 0] - xy[:, 1]]).T
    k = np.linalg.solve(columns[:, :3], columns[:, 3])
    return np.asarray(columns[:, :3] * k), np.asarray(k)


def least_squares_matrix(reference: Array, meter: Array) -> Array:
    """R that takes ``meter`` to ``reference``, both (n, 3) of XYZ, with the smallest sum of squares; returns 3 x 3."""
    return np.asarray(np.linalg.lstsq(meter, reference, rcond=None)[0].T)


def corrected(matrix: Matrix, xyz: Triple) -> Triple:
    """``matrix`` · ``xyz``."""
    x, y, z = (row[0] * xyz[0] + row[1] * xyz[1] + row[2] * xyz[2] for row in matrix)
    return x, y, z


def influences(covariance: Sequence[Sequence[float]], matrix: Matrix) -> tuple[Matrix, ...]:
    """The matrix's uncertainty as independent influences on what was corrected.

    Each is a 3 x 3 matrix F: while this influence is off by one standard uncertainty, the corrected XYZ is off by
    F · XYZ (corrected). Its square summed over all is the covariance after JCGM 102:2011, 6.2.
    """
    values, vectors = np.linalg.eigh(np.asarray(covariance, dtype=float))
    back = np.linalg.inv(np.asarray(matrix, dtype=float))
    kept = [(value, vectors[:, index]) for index, value in enumerate(values) if value > values[-1] * 1e-12]
    return tuple(matrix_of(np.sqrt(value) * vector.reshape(3, 3) @ back) for value, vector in reversed(kept))


Solver = Callable[[Array, Array], Array]


def _solver(method: Method, names: Sequence[str], luminance: bool) -> Solver:
    """From stacked XYZ (n, 3) of both meters to the matrix; what is propagated through."""
    if method == "least-squares":
        return least_squares_matrix
    order = [names.index(name) for name in COLOURS]

    def four(reference: Array, meter: Array) -> Array:
        chromaticities = [(xyz[:, :2] / xyz.sum(axis=1, keepdims=True))[order] for xyz in (reference, meter)]
        matrix = four_colour_matrix(*chromaticities)
        if luminance:
            white = order[3]
            matrix = matrix * (reference[white, 1] / (matrix @ meter[white])[1])
        return matrix

    return four


def _refuse_missing(pairs: Sequence[Pair]) -> None:
    names = [pair.name for pair in pairs]
    missing = [name for name in COLOURS if name not in names]
    if missing:
        raise InputError(
            f"the four-colour method needs red, green, blue and white ({', '.join(COLOURS)}); "
            f"missing here: {', '.join(missing)}"
        )


def _refuse_alike(meter: Array, used: Sequence[Pair]) -> None:
    if len(used) < 3:
        raise InputError(f"a matrix needs three colours at least and these readings have {len(used)}")
    scaled = meter / meter.sum(axis=1, keepdims=True)
    if np.linalg.cond(scaled) > LARGEST_CONDITION:
        names = ", ".join(pair.name for pair in used)
        raise InputError(f"the colours {names} are too alike to make a matrix; read red, green, blue and white")


def _covariance(solve: Solver, used: Sequence[Pair], reference: Array, meter: Array) -> tuple[Rows | None, int]:
    """J C J^T over all readings (JCGM 102:2011, 6.2), J by central differences; degrees of freedom: all together."""
    lights = [(index, side, one) for index, pair in enumerate(used) for side, one in enumerate(pair.lights)]
    total = np.zeros((9, 9))
    for index, side, light in lights:
        if light.covariance is None:
            return None, 0
        step = 1e-5 * sum(light.xyz)

        def moved(axis: int, sign: float, side: int = side, index: int = index, step: float = step) -> Array:
            both = [reference.copy(), meter.copy()]
            both[side][index, axis] += sign * step
            return solve(*both)

        jacobian = _jacobian(moved, step)
        total += jacobian @ np.array(full(light.covariance)) @ jacobian.T
    return _rows(total), sum(light.dof for _, _, light in lights)


def _with_placements(
    covariance: Rows, solve: Solver, placements: tuple[Placement, Placement], reference: Array, meter: Array
) -> Rows:
    """The same and J C J^T of one relative error of all colours of a sitting, for each channel."""
    total = np.array(covariance)
    for side, placement in enumerate(placements):

        def moved(axis: int, sign: float, side: int = side) -> Array:
            both = [reference.copy(), meter.copy()]
            both[side][:, axis] *= 1.0 + sign * 1e-5
            return solve(*both)

        jacobian = _jacobian(moved, 1e-5)
        total += jacobian @ placement.covariance @ jacobian.T
    return _rows(total)


def _jacobian(moved: Callable[[int, float], Array], step: float) -> Array:
    """Derivatives (9, 3) by central differences; ``moved``: the matrix with one axis off by a step, up or down."""
    columns = [(moved(axis, 1.0) - moved(axis, -1.0)).ravel() / (2.0 * step) for axis in range(3)]
    return np.stack(columns, axis=-1)


def _rows(covariance: Array) -> Rows:
    """Symmetrical to the last bit."""
    return tuple(tuple(float(value) for value in row) for row in (covariance + covariance.T) / 2.0)


def _residual(matrix: Matrix, pair: Pair) -> Residual:
    wanted, raw = pair.reference.xyz, pair.meter.xyz
    better = corrected(matrix, raw)
    return Residual(
        pair.name,
        *(_delta_uv(better, wanted), 100.0 * (better[1] / wanted[1] - 1.0)),
        *(_delta_uv(raw, wanted), 100.0 * (raw[1] / wanted[1] - 1.0)),
    )


def _delta_uv(first: Triple, second: Triple) -> float:
    (u1, v1), (u2, v2) = (
        (4.0 * x / (x + 15.0 * y + 3.0 * z), 9.0 * y / (x + 15.0 * y + 3.0 * z)) for x, y, z in (first, second)
    )
    return float(np.hypot(u1 - u2, v1 - v2))


def matrix_of(array: Array) -> Matrix:
    """As tuples."""
    (a, b, c), (d, e, f), (g, h, i) = array.tolist()
    return (a, b, c), (d, e, f), (g, h, i)


def xyz_from(x: float, y: float, luminance_cd_m2: float) -> Triple:
    """XYZ from chromaticity and luminance."""
    return luminance_cd_m2 * x / y, luminance_cd_m2, luminance_cd_m2 * (1.0 - x - y) / y


def named(colours: Mapping[str, Light], others: Mapping[str, Light]) -> tuple[Pair, ...]:
    """Pairs of what both meters have read: red, green, blue, white, then the others in the order of the first."""
    names = sorted(colours, key=lambda name: COLOURS.index(name) if name in COLOURS else len(COLOURS))
    return tuple(Pair(name, colours[name], others[name]) for name in names if name in others)
