"""From colours to codes and back, in plain numbers: matrices, curves and adaptation of a colour space.

Colours are CIE XYZ relative to the space's white (Y = 1). A few hundred patches need no arrays; the same
formulae on arrays are in the analysis room, and tests hold the two together.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple

from benchd.patch.model import Code, half_up, max_code

Triple = tuple[float, float, float]
Matrix = tuple[Triple, Triple, Triple]
Diagram = Literal["uv", "xy"]
Adaptation = Literal["bradford", "cat02"]

CONES: dict[str, Matrix] = {
    # ICC.1, Annex E (from memory)
    "bradford": ((0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296)),
    # CIE 159:2004 (from memory)
    "cat02": ((0.7328, 0.4296, -0.1624), (-0.7036, 1.6975, 0.0061), (0.0030, 0.0136, 0.9834)),
}
BT1886_EXPONENT = 2.4


class Coded(NamedTuple):
    """A colour as codes. ``outside``: the space does not hold it, so that its codes were clamped."""

    code: Code
    outside: bool


class ColourSpace:
    """A space, or a target, ready to turn colours into codes.

    A ``bt1886`` curve encodes with exponent 2.4, which is ITU-R BT.1886 with a black of zero: the screen's
    own black is not known before it is measured. Raises ValueError for a curve that is for greys only.
    """

    def __init__(self, fields: Mapping[str, Any]) -> None:
        self.white_xy: tuple[float, float] = tuple(fields["white"])
        primaries = [xyz_from_xy(fields["primaries"][name]) for name in ("red", "green", "blue")]
        columns = _transposed((primaries[0], primaries[1], primaries[2]))
        scale = times(inverse(columns), xyz_from_xy(self.white_xy))
        rows = [tuple(part * one for part, one in zip(row, scale, strict=True)) for row in columns]
        self.to_xyz: Matrix = (_triple(rows[0]), _triple(rows[1]), _triple(rows[2]))  # after SMPTE RP 177
        self.from_xyz = inverse(self.to_xyz)
        self.curve = str(fields["curve"]["kind"])
        if self.curve not in ("srgb", "power", "bt1886"):
            raise ValueError(f"the curve {self.curve} is for greys only")
        self._exponent = float(fields["curve"].get("exponent") or BT1886_EXPONENT)

    @property
    def white(self) -> Triple:
        """XYZ of white, Y = 1."""
        return xyz_from_xy(self.white_xy)

    def encoded(self, xyz: Triple) -> Triple:
        """R, G, B signals; below 0 or above 1 where the space does not hold the colour."""
        return _triple([self._signal(linear) for linear in times(self.from_xyz, xyz)])

    def coded(self, xyz: Triple, bits: int) -> Coded:
        """Codes, clamped and rounded half up. What moves by half a code or more is outside the space."""
        top = max_code(bits)
        signals = [signal * top for signal in self.encoded(xyz)]
        outside = any(signal <= -0.5 or signal >= top + 0.5 for signal in signals)
        red, green, blue = (half_up(min(max(signal, 0.0), float(top))) for signal in signals)
        return Coded((red, green, blue), outside)

    def decoded(self, code: Code, bits: int) -> Triple:
        """The nominal XYZ of a code."""
        return times(self.to_xyz, _triple([self._linear(one / max_code(bits)) for one in code]))

    def _signal(self, linear: float) -> float:
        if self.curve == "srgb":  # IEC 61966-2-1; its straight part goes on below zero
            return 12.92 * linear if linear <= 0.0031308 else 1.055 * linear ** (1.0 / 2.4) - 0.055
        return math.copysign(abs(linear) ** (1.0 / self._exponent), linear)

    def _linear(self, signal: float) -> float:
        if self.curve == "srgb":
            return signal / 12.92 if signal <= 0.04045 else ((signal + 0.055) / 1.055) ** 2.4
        return float(signal**self._exponent)


def between(white: Sequence[float], full: Triple, share: float, diagram: Diagram) -> Triple:
    """XYZ of the colour at ``share`` of the straight line from ``white`` (x, y) to the colour ``full`` (XYZ).

    The line is straight in CIE 1976 u', v' or in CIE 1931 x, y: the two differ. Luminance is that of ``full``
    (common practice; no standard stands behind saturation sweeps).
    """
    total = sum(full)
    ends = [tuple(white), (full[0] / total, full[1] / total)]
    if diagram == "uv":
        ends = [uv_prime(*end) for end in ends]
    first, second = (start + share * (end - start) for start, end in zip(*ends, strict=True))
    x, y = _xy(first, second) if diagram == "uv" else (first, second)
    return _triple([full[1] * part for part in xyz_from_xy((x, y))])


def adapted(xyz: Triple, white_from: Sequence[float], white_to: Sequence[float], method: Adaptation) -> Triple:
    """XYZ under one white (x, y) as it looks under another: von Kries in the cones of ``method``."""
    cones = CONES[method]
    before, after = (times(cones, xyz_from_xy(white)) for white in (white_from, white_to))
    seen = times(cones, xyz)
    return times(inverse(cones), _triple([s * a / b for s, a, b in zip(seen, after, before, strict=True)]))


def xyz_from_lab(lab: Triple, white: Triple) -> Triple:
    """XYZ of L*, a*, b*. CIE 15, ISO/CIE 11664-4."""
    fy = (lab[0] + 16.0) / 116.0
    parts = (fy + lab[1] / 500.0, fy, fy - lab[2] / 200.0)
    scaled = [f**3 if f > 6.0 / 29.0 else 3.0 * (6.0 / 29.0) ** 2 * (f - 4.0 / 29.0) for f in parts]
    return _triple([part * one for part, one in zip(scaled, white, strict=True)])


def xyz_from_xy(xy: Sequence[float]) -> Triple:
    """XYZ with Y = 1. CIE 15."""
    x, y = xy
    return (x / y, 1.0, (1.0 - x - y) / y)


def times(matrix: Matrix, vector: Triple) -> Triple:
    """Matrix times vector."""
    return _triple([sum(m * v for m, v in zip(row, vector, strict=True)) for row in matrix])


def inverse(matrix: Matrix) -> Matrix:
    """The inverse, by cofactors. Raises ValueError for primaries that lie on one line."""
    (a, b, c), (d, e, f), (g, h, i) = matrix
    whole = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    if abs(whole) < 1e-12:
        raise ValueError("the three primaries lie on one line")
    rows = (
        (e * i - f * h, c * h - b * i, b * f - c * e),
        (f * g - d * i, a * i - c * g, c * d - a * f),
        (d * h - e * g, b * g - a * h, a * e - b * d),
    )
    found = [_triple([part / whole for part in row]) for row in rows]
    return (found[0], found[1], found[2])


def _transposed(matrix: Matrix) -> Matrix:
    first, second, third = zip(*matrix, strict=True)
    return (_triple(first), _triple(second), _triple(third))


def _triple(values: Sequence[float]) -> Triple:
    first, second, third = values
    return (first, second, third)


def uv_prime(x: float, y: float) -> tuple[float, float]:
    """CIE 1976 u', v' of a chromaticity x, y (ISO/CIE 11664-5)."""
    below = -2.0 * x + 12.0 * y + 3.0
    return (4.0 * x / below, 9.0 * y / below)


def _xy(u: float, v: float) -> tuple[float, float]:
    below = 6.0 * u - 16.0 * v + 12.0
    return (9.0 * u / below, 4.0 * v / below)
