"""ICtCp and the colour difference of HDR on arrays: absolute light, no white (ITU-R BT.2100 Table 7, BT.2124-0)."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour import pq
from benchd.analysis.colour.colorimetry import Array

BT2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
D65 = (0.3127, 0.3290)

RGB_TO_LMS: Array = np.array([[1688.0, 2146.0, 262.0], [683.0, 2951.0, 462.0], [99.0, 309.0, 3688.0]]) / 4096.0
LMS_TO_ICTCP: Array = (
    np.array([[2048.0, 2048.0, 0.0], [6610.0, -13613.0, 7003.0], [17933.0, -17390.0, -543.0]]) / 4096.0
)
SCALE: Array = 720.0 * np.array([1.0, 0.5, 1.0])
"""From ICtCp to a space in which a length of 1 is just noticeable where the eye is best adapted (BT.2124-0)."""


@cache
def _rgb_to_xyz() -> Array:
    return colour.rgb_to_xyz_matrix(*BT2020, D65)


@cache
def _xyz_to_lms() -> Array:
    return np.asarray(RGB_TO_LMS @ np.linalg.inv(_rgb_to_xyz()))


def xyz_from_rgb(rgb: Any) -> Array:
    """XYZ (..., 3) in cd/m2 of linear BT.2020 light (..., 3) in cd/m2."""
    return np.asarray(np.asarray(rgb, dtype=np.float64) @ _rgb_to_xyz().T)


def ictcp(xyz: Any) -> Array:
    """I, Ct, Cp (..., 3) of XYZ (..., 3) in cd/m2."""
    return np.asarray(pq.signal(np.asarray(xyz, dtype=np.float64) @ _xyz_to_lms().T) @ LMS_TO_ICTCP.T)


def delta_e_itp(first: Any, second: Any) -> Array:
    """Colour difference (...) of two colours in ICtCp (..., 3); symmetric."""
    apart = (np.asarray(first) - np.asarray(second)) * SCALE
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", apart, apart)))


def scaled_with_slopes(xyz: Any) -> tuple[Array, Array]:
    """720 (I, Ct / 2, Cp) of XYZ (n, 3), and its derivatives by X, Y, Z (n, 3 components, 3)."""
    xyz = np.asarray(xyz, dtype=np.float64)
    lms = xyz @ _xyz_to_lms().T
    values = (pq.signal(lms) @ LMS_TO_ICTCP.T) * SCALE
    by_lms = pq.slope(lms)[:, None, :] * LMS_TO_ICTCP[None] * SCALE[None, :, None]
    return np.asarray(values), np.asarray(by_lms @ _xyz_to_lms())
