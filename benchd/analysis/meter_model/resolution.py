"""The meter's resolution as a source of uncertainty: half a step over the square root of three (JCGM 100, F.2.2.1).

A step is what the meter's last digit counts, in the quantity that it sends: X, Y, Z, or Y with two chromaticities. The
rounding of readings that are equal is one error: more of them do not make it smaller. So the expanded uncertainty of a
mean is the larger of the two (after ISO 14253-2, from memory),

    U = max(t(.975, nu) s / sqrt(n), 1.96 step / sqrt(12))

and the second falls away where ten readings or more have a standard deviation s of 0.6 steps or more, since then
rounding is part of s. Steps that read the same may share the error (`Source.group`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from benchd.analysis.meter_model.printed_digits import FOUND, GUESS, GUESSED, Answers, Row
from benchd.analysis.uncertainty.sources import NORMAL, WHITE_XYZ, Source, Triple, Vectors, coverage_factor, gradient_of

SQRT_12 = math.sqrt(12.0)
DITHERED_N, DITHERED_STEPS = 10, 0.6
"""From so many readings with a standard deviation of so many steps on, rounding is part of it."""
NAMES = {"x": "x", "y": "y", "u": "u'", "v": "v'"}
"""Of chromaticities, as figures are called."""
UNIT_VECTORS: tuple[Triple, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
LOWEST_CD_M2 = 1e-6
FAR_BELOW = 1e-4
"""Of the upper end of the lowest range that was seen: three powers of ten below its lower end."""

Matrix = Sequence[Sequence[float]]
SerialFactors = tuple[float, float]
"""How many times as uncertain as that of independent readings a mean is: of light, and of colour."""


class Rounding(NamedTuple):
    """Of one sent quantity at one light: its value and step (light in cd/m2), and its derivatives by X, Y, Z."""

    quantity: str
    value: float
    row: Row | None
    gradient: Triple

    @property
    def u(self) -> float:
        """Standard uncertainty of one rounding; 0 where no step is known."""
        return self.row.step / SQRT_12 if self.row else 0.0

    def outweighs(self, s: float, dof: float, n: int, factors: SerialFactors) -> bool:
        """Is rounding more than the standard deviation ``s`` of single readings makes of the mean of ``n``?"""
        if self.row is None or (n >= DITHERED_N and s >= DITHERED_STEPS * self.row.step):
            return False
        worth = factors[1] if self.quantity in NAMES else factors[0]
        return coverage_factor(dof) * worth * s / math.sqrt(n) < NORMAL * self.u


class Resolution(NamedTuple):
    """Of one meter: the ``form`` of what it sends, and for each quantity rows of (largest size, step, how it is known).

    Steps of light are in cd/m2. ``inverse`` makes of a corrected light what was read, where a correction was in use.
    """

    form: tuple[str, ...]
    rows: tuple[tuple[Row, ...], ...]
    inverse: tuple[Triple, Triple, Triple] | None = None

    def roundings(self, xyz: Triple) -> list[Rounding]:
        """Of each of the three quantities, at the light ``xyz``."""
        at = xyz = xyz if self.inverse is None else _product(xyz, self.inverse)
        if self.form[0] != "X" and min(xyz) <= 0.0:
            # A light of nothing has no chromaticity: that of a white, so that the other channels follow Y.
            light = max(xyz[1], LOWEST_CD_M2)
            at = (WHITE_XYZ[0] * light, light, WHITE_XYZ[2] * light)
        found = []
        for index, (quantity, rows) in enumerate(zip(self.form, self.rows, strict=True)):
            if self.form[0] == "X" or quantity == "Y":
                axis = "XYZ".index(quantity)
                value, gradient = xyz[axis], UNIT_VECTORS[axis]
            else:
                gradient = gradient_of(NAMES[quantity], at)
                value = _chromaticity(self.form, at)[index - 1]
            if self.inverse is not None:
                gradient = _product(gradient, tuple(zip(*self.inverse, strict=True)))
            found.append(Rounding(quantity, value, row_at(rows, value), gradient))
        return found

    def covariance(self, xyz: Triple) -> Matrix:
        """Covariance of X, Y, Z from the rounding of one reading alone, (cd/m2)^2."""
        roundings = self.roundings(xyz)
        vectors = _vectors(roundings) * np.array([one.u for one in roundings])
        return (vectors @ vectors.T).tolist()  # type: ignore[no-any-return]

    def larger(
        self, xyz: Triple, covariance: Matrix, dof: float, n: int, called: str, factors: SerialFactors = (1.0, 1.0)
    ) -> tuple[Matrix, Vectors]:
        """For each sent quantity the larger of noise and rounding, of the mean of ``n`` readings of ``called``.

        ``covariance``: of single readings, with ``dof`` degrees of freedom; ``factors``: for serial
        correlation. Returned: the same without the noise of the quantities whose rounding is the larger, and the
        vectors of that rounding.
        """
        roundings = self.roundings(xyz)
        rounded = [one.outweighs(_deviation(covariance, one.gradient), dof, n, factors) for one in roundings]
        if not any(rounded):
            return covariance, []
        vectors = _vectors(roundings)
        changes = (vectors * np.array([one.u for one in roundings])).T.tolist()
        found: Vectors = [
            (_source(one, called), (x, y, z))
            for one, (x, y, z), is_rounded in zip(roundings, changes, rounded, strict=True)
            if is_rounded
        ]
        # Of the other quantities the noise stays, and what it shares among them.
        gradients = np.array([one.gradient for one in roundings])
        kept = vectors @ np.diag([float(not one) for one in rounded]) @ gradients
        return (kept @ np.array(covariance) @ kept.T).tolist(), found

    def words(self) -> list[dict[str, str | float | None]]:
        """For results: quantity, up to which size the step holds (None: all), step, how it is known."""
        return [
            {"quantity": NAMES.get(quantity, quantity), "up_to": _finite(row.up_to), "step": row.step, "from": row.how}
            for quantity, rows in zip(self.form, self.rows, strict=True)
            for row in rows
        ]


def row_at(rows: Sequence[Row], value: float) -> Row | None:
    """The first row that reaches to the size of ``value``, or the last one.

    None without rows, and far below all answers that were seen: there a meter may show finer steps.
    """
    if rows and rows[0].how in (FOUND, GUESS) and 0.0 < abs(value) < FAR_BELOW * rows[0].up_to < math.inf:
        return None
    for row in rows:
        if abs(value) <= row.up_to * (1.0 + 1e-9):
            return row
    return rows[-1] if rows else None


def resolution_from(head: Mapping[str, Any], answers: Answers) -> Resolution | None:
    """What the log's head states, and else what the answers show; None where neither shows it."""
    stated = (head.get("resolution") or {}).get("stated")
    form, rows = answers.form, [answers.rows(index) for index in range(3)]
    if isinstance(stated, Mapping):
        rules, unit = stated["rules"], float(stated["unit_cd_m2"])
        shown = dict(zip(form, rows, strict=True))
        form = tuple(rules)
        rows = [
            shown.get(quantity, ())
            if rule is None
            else _stated_rows(rule, 1.0 if quantity in NAMES else unit, str(stated["by"]), shown.get(quantity, ()))
            for quantity, rule in rules.items()
        ]
    if not any(rows):
        return None
    correction = head.get("correction")
    inverse = None
    if isinstance(correction, Mapping):
        (a, b, c), (d, e, f), (g, h, i) = np.linalg.inv(np.array(correction["matrix"], dtype=np.float64)).tolist()
        inverse = ((a, b, c), (d, e, f), (g, h, i))
    return Resolution(form, tuple(rows), inverse)


SMALLEST_DECADE, LARGEST_DECADE = -6, 7


def _stated_rows(rule: Mapping[str, Any], unit: float, by: str, shown: Sequence[Row]) -> tuple[Row, ...]:
    """Of significant digits none is finer than the finest that was ``shown``: a zero has digits too."""
    how = f"stated by {by}"
    if "digits" in rule:
        digits = int(rule["digits"])
        finest = float(rule.get("least") or min((row.step / unit for row in shown), default=0.0))
        return tuple(
            Row(unit * 10.0 ** (decade + 1) * (1.0 - 1e-8), unit * max(10.0 ** (decade + 1 - digits), finest), how)
            for decade in range(SMALLEST_DECADE, LARGEST_DECADE)
        )
    return tuple(
        Row(math.inf if up_to is None else unit * float(up_to), unit * float(step), how)
        for up_to, step in rule["ranges"]
    )


def _vectors(roundings: Sequence[Rounding]) -> Any:
    """Columns: the change of X, Y, Z when one quantity changes by 1 and the others stay."""
    return np.linalg.inv(np.array([one.gradient for one in roundings]))


def _deviation(covariance: Matrix, gradient: Triple) -> float:
    total = sum(gradient[i] * gradient[j] * covariance[i][j] for i in range(3) for j in range(3))
    return math.sqrt(max(0.0, total))


def _product(vector: Triple, rows: Sequence[Sequence[float]]) -> Triple:
    x, y, z = (sum(a * b for a, b in zip(row, vector, strict=True)) for row in rows)
    return x, y, z


def _chromaticity(form: tuple[str, ...], xyz: Triple) -> tuple[float, float]:
    x, y, z = xyz
    if form[1] == "x":
        return x / (x + y + z), y / (x + y + z)
    below = x + 15.0 * y + 3.0 * z
    return 4.0 * x / below, 9.0 * y / below


def _source(one: Rounding, called: str) -> Source:
    """One of the step's own; roundings to steps of one size are a group."""
    assert one.row is not None
    name, step = NAMES.get(one.quantity, one.quantity), one.row.step
    unit = "" if one.quantity in NAMES else " cd/m2"
    group = f"resolution of {name}, {step:.3g}{unit}{GUESSED if one.row.how == GUESS else ''}"
    return Source(f"resolution of {name} at {called}", part=round(one.value / step), group=group)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
