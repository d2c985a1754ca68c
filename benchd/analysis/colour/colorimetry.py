"""Colour formulae on arrays: the last axis holds the components, any number of axes before it.

XYZ is for the CIE 1931 2-degree observer. Where a formula has no answer (black has no chromaticity) the result
is NaN, never a made-up figure; `quantity` turns that into "absent".
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from benchd.analysis.colour import planckian

if TYPE_CHECKING:
    from numpy.typing import NDArray

Array: TypeAlias = "NDArray[np.float64]"

LAB_LINEAR_BELOW = (6.0 / 29.0) ** 3
DUV_LIMIT = 0.05
"""No CCT is given farther than this from the Planckian locus (Ohno, Leukos 10 (2014), from memory)."""
CCT_RANGE_K = (1000.0, 100_000.0)

BRADFORD: Array = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Cone response matrix of the Bradford transform (ICC.1, Annex E; from memory)."""
CAT02: Array = np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]])
"""Cone response matrix of CIECAM02 (CIE 159:2004; from memory)."""


def _floats(values: Any) -> Array:
    return np.asarray(values, dtype=np.float64)


def _components(colours: Any) -> tuple[Array, Array, Array]:
    """The three components of colours (..., 3)."""
    values = _floats(colours)
    return values[..., 0], values[..., 1], values[..., 2]


def xy_from_xyz(xyz: Any) -> Array:
    """CIE 1931 x, y (..., 2) of XYZ (..., 3). CIE 15."""
    xyz = _floats(xyz)
    with np.errstate(invalid="ignore", divide="ignore"):
        return _floats(xyz[..., :2] / xyz.sum(axis=-1, keepdims=True))


def xyz_from_xy(xy: Any, luminance: Any = 1.0) -> Array:
    """XYZ (..., 3) of x, y (..., 2) and luminance Y (...). CIE 15."""
    xy, luminance = _floats(xy), _floats(luminance)
    x, y = xy[..., 0], xy[..., 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        scale = luminance / y
    level = np.broadcast_to(luminance, scale.shape)
    return _floats(np.stack([x * scale, level, (1.0 - x - y) * scale], axis=-1))


def uv_from_xyz(xyz: Any) -> Array:
    """CIE 1976 u', v' (..., 2) of XYZ (..., 3). CIE 15."""
    x, y, z = _components(xyz)
    with np.errstate(invalid="ignore", divide="ignore"):
        return _floats(np.stack([4.0 * x, 9.0 * y], axis=-1) / (x + 15.0 * y + 3.0 * z)[..., None])


def uv_from_xy(xy: Any) -> Array:
    """CIE 1976 u', v' (..., 2) of x, y (..., 2): 4x and 9y over (-2x + 12y + 3). CIE 15."""
    xy = _floats(xy)
    x, y = xy[..., 0], xy[..., 1]
    return _floats(np.stack([4.0 * x, 9.0 * y], axis=-1) / (-2.0 * x + 12.0 * y + 3.0)[..., None])


def distance(first: Any, second: Any) -> Array:
    """Euclidean distance along the last axis; in u', v' this is the usual colour difference du'v'."""
    return _floats(np.sqrt(np.sum((_floats(first) - _floats(second)) ** 2, axis=-1)))


def lab_from_xyz(xyz: Any, white: Any) -> Array:
    """CIELAB L*, a*, b* (..., 3) of XYZ against the XYZ of white, in one scale. CIE 15, ISO/CIE 11664-4."""
    t = _floats(xyz) / _floats(white)
    fx, fy, fz = _components(np.where(t > LAB_LINEAR_BELOW, np.cbrt(t), t / (3.0 * (6.0 / 29.0) ** 2) + 4.0 / 29.0))
    return np.stack([116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)], axis=-1)


def delta_e_76(reference: Any, sample: Any) -> Array:
    """CIE 1976 colour difference (...) of two L*, a*, b* (..., 3). CIE 15."""
    return distance(reference, sample)


def delta_e_94(reference: Any, sample: Any) -> Array:
    """CIE 1994 colour difference, graphic arts (kL 1, K1 0.045, K2 0.015). Not symmetric: reference first."""
    (l1, a1, b1), (l2, a2, b2) = _components(reference), _components(sample)
    chroma = _length(a1, b1)
    step_chroma = chroma - _length(a2, b2)
    step_hue2 = np.maximum((a1 - a2) ** 2 + (b1 - b2) ** 2 - step_chroma**2, 0.0)
    weight_chroma, weight_hue = 1.0 + 0.045 * chroma, 1.0 + 0.015 * chroma
    total = (l1 - l2) ** 2 + (step_chroma / weight_chroma) ** 2 + step_hue2 / weight_hue**2
    return _floats(np.sqrt(total))


def delta_e_2000(first: Any, second: Any) -> Array:
    """CIEDE2000 (...) of two L*, a*, b* (..., 3), kL = kC = kH = 1.

    CIE 142-2001, ISO/CIE 11664-6, written after Sharma, Wu, Dalal, Color Res. Appl. 30 (2005) 21-30.
    """
    first, second = _floats(first), _floats(second)
    if max(first.size, second.size) <= 3 * CHUNK or first.shape != second.shape:
        return _ciede2000(first, second)[0]
    # A long list goes through the processor's cache piece by piece: the same sums, a quarter faster.
    pairs, others = first.reshape(-1, 3), second.reshape(-1, 3)
    found = np.empty(len(pairs))
    for start in range(0, len(pairs), CHUNK):
        part = slice(start, start + CHUNK)
        found[part] = _ciede2000(pairs[part], others[part])[0]
    return found.reshape(first.shape[:-1])


CHUNK = 4096
"""Pairs of colours computed at once."""


def delta_e_2000_parts(reference: Any, sample: Any) -> Array:
    """CIEDE2000 and its terms (..., 4): the difference, dL' / SL, dC' / SC, dH' / SH, signed sample minus reference.

    The squares of the terms and the rotation term make the square of the difference (ISO/CIE 11664-6).
    """
    return np.stack(_ciede2000(_floats(reference), _floats(sample)), axis=-1)


def _ciede2000(first: Array, second: Array) -> tuple[Array, Array, Array, Array]:
    (l1, a1, b1), (l2, a2, b2) = _components(first), _components(second)
    mean7 = _seventh((_length(a1, b1) + _length(a2, b2)) / 2.0)
    stretch = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + 25.0**7))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = _length(a1, b1), _length(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360.0, np.degrees(np.arctan2(b2, a2)) % 360.0
    grey = c1 * c2 == 0.0
    turn = h2 - h1
    far = np.abs(turn) > 180.0
    turn = np.where(grey, 0.0, np.where(far, turn - np.copysign(360.0, turn), turn))
    dl, dc = l2 - l1, c2 - c1
    dh = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2.0))
    mean_l, mean_c = (l1 + l2) / 2.0, (c1 + c2) / 2.0
    total_h = h1 + h2
    mean_h = np.where(far, total_h + np.where(total_h < 360.0, 360.0, -360.0), total_h) / 2.0
    mean_h = np.where(grey, total_h, mean_h)
    weight = (
        1.0
        - 0.17 * np.cos(np.radians(mean_h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * mean_h))
        + 0.32 * np.cos(np.radians(3.0 * mean_h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * mean_h - 63.0))
    )
    light2 = (mean_l - 50.0) ** 2
    dl = dl / (1.0 + 0.015 * light2 / np.sqrt(20.0 + light2))
    dc = dc / (1.0 + 0.045 * mean_c)
    dh = dh / (1.0 + 0.015 * mean_c * weight)
    mean_c7 = _seventh(mean_c)
    rotation = np.radians(60.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2)))
    twist = -2.0 * np.sqrt(mean_c7 / (mean_c7 + 25.0**7)) * np.sin(rotation)
    total = np.sqrt(np.maximum(dl**2 + dc**2 + dh**2 + twist * dc * dh, 0.0))
    return _floats(total), _floats(dl), _floats(dc), _floats(dh)


def _seventh(values: Array) -> Array:
    """The seventh power, by products: the general power costs ten times as much."""
    square = values * values
    return _floats(square * square * square * values)


def _length(first: Array, second: Array) -> Array:
    """As hypot, without its care for lengths near the ends of what a double holds, which no colour has."""
    return _floats(np.sqrt(first * first + second * second))


def rgb_to_xyz_matrix(red: Any, green: Any, blue: Any, white: Any) -> Array:
    """Matrix from linear RGB to XYZ (white has Y = 1) from x, y of primaries and white. SMPTE RP 177."""
    primaries = np.stack([xyz_from_xy(_floats(xy)) for xy in (red, green, blue)], axis=-1)
    return _floats(primaries * np.linalg.solve(primaries, xyz_from_xy(white)))


def adapted(xyz: Array, white_from: Array, white_to: Array, method: str = "bradford") -> Array:
    """XYZ under one white as they look under another, of von Kries type, in the cones of ``method`` or cat02."""
    cones = (CAT02 if method == "cat02" else BRADFORD).T
    seen = (xyz @ cones) * ((white_to @ cones) / (white_from @ cones))
    return _floats(seen @ np.linalg.inv(cones))


def cct_duv(xyz: Any) -> tuple[Array, Array]:
    """CCT in K and Duv (each of shape (...)) of XYZ (..., 3).

    Nearest point of the Planckian locus in CIE 1960 u, v (CIE 15), by direct minimisation of the distance to
    a locus tabulated every 5 per MK and interpolated by quartics. Duv is positive above the locus (greenish),
    negative below (pinkish), as in Ohno, Leukos 10 (2014), from memory. CCT is NaN beyond `DUV_LIMIT` and
    outside `CCT_RANGE_K`; Duv is NaN where there is no nearest point in the table.
    """
    uv = uv_from_xyz(xyz) * (1.0, 2.0 / 3.0)
    points = uv.reshape(-1, 2)
    cct, duv = np.empty(len(points)), np.empty(len(points))
    for start in range(0, len(points), 4096):  # bounds the memory of the search for the nearest row
        part = slice(start, start + 4096)
        cct[part], duv[part] = _nearest_on_locus(points[part])
    return cct.reshape(uv.shape[:-1]), duv.reshape(uv.shape[:-1])


@cache
def _locus() -> tuple[Array, Array]:
    """Rows u, v (n, 2) and coefficients (n, 5, 2) of the quartic near each row.

    The quartic is in t = (rows from the row itself), through the five rows about it.
    """
    rows = _floats(planckian.UV)
    count = len(rows)
    first = np.clip(np.arange(count) - 2, 0, count - 5)
    at = first[:, None] + np.arange(5) - np.arange(count)[:, None]
    powers = _floats(at)[:, :, None] ** np.arange(5)
    return rows, np.linalg.solve(powers, rows[first[:, None] + np.arange(5)])


def _nearest_on_locus(points: Array) -> tuple[Array, Array]:
    rows, quartics = _locus()
    usable = np.asarray(np.isfinite(points).all(axis=-1))
    safe = np.where(usable[:, None], points, rows[40])
    # Every 5th row finds the neighbourhood; the nearest row itself is within it.
    coarse = np.argmin(((safe[:, None, :] - rows[None, ::5]) ** 2).sum(axis=-1), axis=1) * 5
    window = np.clip(coarse[:, None] + np.arange(-5, 6), 0, len(rows) - 1)
    fine = np.argmin(((safe[:, None, :] - rows[window]) ** 2).sum(axis=-1), axis=1)
    row = window[np.arange(len(safe)), fine]
    curve = quartics[row]
    t = np.zeros(len(safe))
    for _ in range(6):  # Newton's method on the derivative of the squared distance
        place, slope, bend = _along(curve, t)
        off = place - safe
        gradient = (off * slope).sum(axis=-1)
        curvature = (slope * slope + off * bend).sum(axis=-1)
        t = np.clip(t - gradient / np.where(curvature > 0.0, curvature, (slope * slope).sum(axis=-1)), -1.5, 1.5)
    place, slope, _ = _along(curve, t)
    off = safe - place
    length = np.sqrt((off * off).sum(axis=-1))
    # Rows run from blue to red, so what lies to the left of that direction is above the locus.
    side = np.sign(slope[:, 0] * off[:, 1] - slope[:, 1] * off[:, 0])
    reciprocal_mk = (row + t) * planckian.STEP_MK
    inside = usable & (reciprocal_mk >= 1e6 / CCT_RANGE_K[1]) & (reciprocal_mk <= 1e6 / CCT_RANGE_K[0])
    with np.errstate(divide="ignore"):
        cct = np.where(inside & (length <= DUV_LIMIT), 1e6 / reciprocal_mk, np.nan)
    return cct, np.where(inside, side * length, np.nan)


def _along(curve: Array, t: Array) -> tuple[Array, Array, Array]:
    """Value, first and second derivative (n, 2) of quartics (n, 5, 2) at t (n,)."""
    k0, k1, k2, k3, k4 = (curve[:, i, :] for i in range(5))
    t = t[:, None]
    value = k0 + t * (k1 + t * (k2 + t * (k3 + t * k4)))
    slope = k1 + t * (2.0 * k2 + t * (3.0 * k3 + t * 4.0 * k4))
    return value, slope, 2.0 * k2 + t * (6.0 * k3 + t * 12.0 * k4)
