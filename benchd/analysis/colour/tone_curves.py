"""Tone curves: relative output or luminance from the signal V (0 to 1), always the V that was really shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.colour.target import Target
from benchd.errors import InputError

BT1886_EXPONENT = 2.4

GSDF_FIRST, GSDF_LAST = 1.0, 1023.0
_GSDF_TOP = (-1.3011877, 8.0242636e-2, 1.3646699e-1, -2.5468404e-2, 1.3635334e-3)  # a c e g m
_GSDF_BOTTOM = (1.0, -2.5840191e-2, -1.0320229e-1, 2.8745620e-2, -3.1978977e-3, 1.2992634e-4)  # 1 b d f h k


def srgb(signal: Any) -> Array:
    """Relative output (0 to 1) of the sRGB curve. IEC 61966-2-1."""
    v = np.asarray(signal, dtype=np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0.0) + 0.055) / 1.055) ** 2.4)


def power(signal: Any, exponent: float) -> Array:
    """Relative output (0 to 1) of a pure power curve."""
    return np.asarray(np.asarray(signal, dtype=np.float64) ** exponent)


def bt1886(signal: Any, white: float, black: float) -> Array:
    """Luminance in cd/m2 for luminances of white and black in cd/m2. ITU-R BT.1886, Annex 1.

    L = a max(V + b, 0)^2.4; at V = 0 it is ``black`` and at V = 1 ``white``, whatever they are.
    """
    v = np.asarray(signal, dtype=np.float64)
    root_white, root_black = white ** (1.0 / BT1886_EXPONENT), black ** (1.0 / BT1886_EXPONENT)
    a = (root_white - root_black) ** BT1886_EXPONENT
    b = root_black / (root_white - root_black)
    return np.asarray(a * np.maximum(v + b, 0.0) ** BT1886_EXPONENT)


def gsdf_luminance(index: Any) -> Array:
    """Luminance in cd/m2 of a JND index j, 1 to 1023. DICOM PS3.14, section 7.1."""
    x = np.log(np.asarray(index, dtype=np.float64))
    top = np.polynomial.polynomial.polyval(x, _GSDF_TOP)
    bottom = np.polynomial.polynomial.polyval(x, _GSDF_BOTTOM)
    return np.asarray(10.0 ** (top / bottom))


def gsdf_index(luminance: float) -> float:
    """JND index j of a luminance in cd/m2, by bisection of the forward function, so that j and L agree exactly.

    The standard's own inverse is a separate fit that misses by up to 1.7e-3. Raises ValueError outside the
    function's range, 0.05 to 3993 cd/m2.
    """
    low, high = GSDF_FIRST, GSDF_LAST
    first, last = float(gsdf_luminance(low)), float(gsdf_luminance(high))
    if not first <= luminance <= last:
        raise ValueError(f"{luminance:.4g} cd/m2 is outside the {first:.2f} to {last:.0f} cd/m2 of the GSDF")
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if float(gsdf_luminance(middle)) < luminance else (low, middle)
    return (low + high) / 2.0


def gsdf(signal: Any, white: float, black: float) -> Array:
    """Luminance in cd/m2 of a P-value as a fraction of the largest, between the measured ends. PS3.14, 7.1.

    Raises ValueError where white or black is outside the function's range.
    """
    first, last = gsdf_index(black), gsdf_index(white)
    return gsdf_luminance(first + np.asarray(signal, dtype=np.float64) * (last - first))


def needs_black(target: Target) -> bool:
    """True when the curve depends on the screen's black."""
    return target.curve in ("bt1886", "gsdf")


def luminance_curve(target: Target, white: float, black: float | None) -> Callable[[Any], Array]:
    """The target's curve as a function from V (...) to luminance in cd/m2 (...).

    ``white`` and ``black`` are luminances in cd/m2; sRGB and power curves are relative to white and do not
    use black. Raises ValueError where the curve can't be had for them, InputError for an unknown curve.
    """
    if needs_black(target):
        if black is None:
            raise ValueError("black was not measured")
        if not 0.0 <= black < white:
            raise ValueError(f"black ({black:.4g} cd/m2) is not below white ({white:.4g} cd/m2)")
    if target.curve == "srgb":
        return lambda v: white * srgb(v)
    if target.curve == "power" and target.exponent is not None:
        exponent = target.exponent
        return lambda v: white * power(v, exponent)
    if target.curve == "bt1886":
        return lambda v: bt1886(v, white, black or 0.0)
    if target.curve == "gsdf":
        gsdf(0.0, white, black or 0.0)  # refuses here what it would refuse later
        return lambda v: gsdf(v, white, black or 0.0)
    raise InputError(f"target {target.name!r}: the curve {target.curve!r} can't be computed")
