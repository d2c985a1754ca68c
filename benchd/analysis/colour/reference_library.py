"""The one door to colour-science, an independent library: it computes again what benchd has computed.

It is loaded only for a cross-check: its import takes seconds and brings a plotting library. Arrays in
and out, components last; XYZ in cd/m2. No formula of benchd is used here.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from typing import Any

import numpy as np

from benchd.analysis.colour.target import XY, Target

C2_SI_M_K = 1.438776877e-2
"""Second radiation constant, h c / k of the SI of 2019."""
C2_OF_LIBRARY_M_K = 1.4388e-2
D65: XY = (0.3127, 0.3290)
HLG_PEAK_CD_M2 = (400.0, 2000.0)
"""Peaks for which ITU-R BT.2100 gives one system gamma; outside, the library has no extended form."""
FORMULAE = {76: "CIE 1976", 94: "CIE 1994", 2000: "CIE 2000"}
ADAPTATIONS = {"bradford": "Bradford", "cat02": "CAT02"}


@contextmanager
def quiet() -> Iterator[None]:
    """Warnings and log messages of the library stay off the terminal."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            yield
    finally:
        logging.disable(before)


@cache
def library() -> Any:
    """The library itself; for use within `quiet`."""
    import colour

    return colour


def version() -> str:
    """Its name and version."""
    return f"colour-science {library().__version__}"


def xy(xyz: Any) -> Any:
    """CIE 1931 x, y."""
    return library().XYZ_to_xy(xyz)


def uv(xyz: Any) -> Any:
    """CIE 1976 u', v'."""
    return library().xy_to_Luv_uv(xy(xyz))


def cct_duv(xyz: Any) -> Any:
    """CCT in K and Duv by the method of Ohno (2013) on the observer from 360 to 830 nm.

    Planck's law holds c2 and the temperature as their quotient alone: the temperature is brought to the c2 of the SI.
    """
    colour = library()
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    found = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(xyz)), cmfs=observer)
    cct, duv = found[..., 0] * (C2_SI_M_K / C2_OF_LIBRARY_M_K), found[..., 1]
    # Of a light on the locus itself the library takes the root of a square that rounding made negative.
    return np.stack([cct, np.where(np.isnan(duv) & np.isfinite(cct), 0.0, duv)], axis=-1)


def lab(xyz: Any, white: Any) -> Any:
    """CIELAB against the XYZ of a white."""
    return library().XYZ_to_Lab(np.asarray(xyz) / white[1], xy(white))


def delta_e(reference: Any, sample: Any, formula: int = 2000) -> Any:
    """Colour difference of two L*, a*, b*: formula 76, 94 or 2000."""
    return library().delta_E(reference, sample, method=FORMULAE[formula])


def apart(first: Any, second: Any) -> Any:
    """Euclidean distance."""
    return library().algebra.euclidean_distance(first, second)


def hue_ab(xyz: Any, white: Any) -> Any:
    """CIELAB hue angle in degrees."""
    return library().models.Lab_to_LCHab(lab(xyz, white))[..., 2]


def hue_uv(xyz: Any, white: Any) -> Any:
    """CIELUV hue angle in degrees, which is that about white in u', v'."""
    return library().models.Luv_to_LCHuv(library().XYZ_to_Luv(np.asarray(xyz) / white[1], xy(white)))[..., 2]


def xyz_of(point: XY, luminance: Any = 1.0) -> Any:
    """XYZ of x, y at luminances."""
    level = np.asarray(luminance, dtype=np.float64)
    return library().xyY_to_XYZ(np.stack([*np.broadcast_arrays(*point, level)], axis=-1))


def rgb_to_xyz(space: Target, rgb: Any) -> Any:
    """XYZ of linear R, G, B; white has Y = 1."""
    return library().algebra.vecmul(_to_xyz(space), rgb)


def xyz_to_rgb(space: Target, xyz: Any) -> Any:
    """Linear R, G, B of XYZ; white has Y = 1."""
    return library().algebra.vecmul(np.linalg.inv(_to_xyz(space)), xyz)


def _to_xyz(space: Target) -> Any:
    return library().normalised_primary_matrix(np.array([space.red, space.green, space.blue]), np.array(space.white))


def adapted(xyz: Any, white_from: Any, white_to: Any, method: str) -> Any:
    """XYZ under one white as they look under another, of von Kries type."""
    return library().adaptation.chromatic_adaptation_VonKries(xyz, white_from, white_to, transform=ADAPTATIONS[method])


def curve(target: Target, signal: Any, white: float, black: float | None) -> Any:
    """Luminance in cd/m2 that the target's curve gives for signals of 0 to 1."""
    colour = library()
    if target.curve == "srgb":
        return white * colour.models.eotf_sRGB(signal)
    if target.curve == "power":
        return white * colour.gamma_function(signal, target.exponent)
    if target.curve == "bt1886":
        return colour.models.eotf_BT1886(signal, L_B=black or 0.0, L_W=white)
    first, last = (_gsdf_index(level) for level in (black or 0.0, white))
    return colour.models.eotf_DICOMGSDF((first + np.asarray(signal) * (last - first)) / 1023.0)


def _gsdf_index(luminance: float) -> float:
    """The index of the library's forward function, searched: its inverse is another fit."""
    low, high = 1.0, 1023.0
    for _ in range(60):
        middle = (low + high) / 2.0
        below = float(library().models.eotf_DICOMGSDF(middle / 1023.0)) < luminance
        low, high = (middle, high) if below else (low, middle)
    return (low + high) / 2.0


def signal_of(codes: Any, bits: int, range_: str) -> Any:
    """Signal of 0 to 1 of codes of the full or the narrow range."""
    low, high = library().CV_range(bits, is_legal=range_ == "narrow", is_int=True)
    return np.clip((np.asarray(codes, dtype=np.float64) - low) / (high - low), 0.0, 1.0)


def span(bits: int, range_: str) -> float:
    """How many codes there are from black to the peak."""
    low, high = library().CV_range(bits, is_legal=range_ == "narrow", is_int=True)
    return float(high - low)


def pq(signal: Any) -> Any:
    """EOTF of PQ: cd/m2."""
    return library().models.eotf_ST2084(signal)


def pq_signal(luminance: Any) -> Any:
    """Signal of PQ of a luminance in cd/m2."""
    return library().models.eotf_inverse_ST2084(luminance)


def no_hlg(peak: float) -> str:
    """Why the library has no HLG of a peak in cd/m2; "" where it has."""
    low, high = HLG_PEAK_CD_M2
    within = low <= peak <= high
    return "" if within else f"the library's HLG has no extended system gamma, and {peak:.4g} cd/m2 needs it"


def hlg(rgb: Any, peak: float, black: float = 0.0) -> Any:
    """EOTF of HLG: R, G, B in cd/m2 of signals."""
    return library().models.eotf_BT2100_HLG(rgb, L_W=peak, L_B=black)


def hlg_signal(luminance: Any, peak: float, black: float = 0.0) -> Any:
    """Signals of HLG of greys in cd/m2."""
    grey = np.repeat(np.asarray(luminance, dtype=np.float64)[..., None], 3, axis=-1)
    return library().models.eotf_inverse_BT2100_HLG(grey, L_W=peak, L_B=black)[..., 0]


def ictcp(xyz: Any) -> Any:
    """ICtCp (BT.2100, PQ) of XYZ in cd/m2."""
    space = library().RGB_COLOURSPACES["ITU-R BT.2020"]
    return ictcp_of_rgb(library().XYZ_to_RGB(xyz, space, chromatic_adaptation_transform=None))


def ictcp_of_rgb(rgb: Any) -> Any:
    """ICtCp (BT.2100, PQ) of linear BT.2020 light in cd/m2."""
    return library().RGB_to_ICtCp(rgb, method="ITU-R BT.2100-2 PQ")


def bt2020_xyz(rgb: Any) -> Any:
    """XYZ of linear BT.2020 light, in its unit."""
    space = library().RGB_COLOURSPACES["ITU-R BT.2020"]
    return library().RGB_to_XYZ(rgb, space, chromatic_adaptation_transform=None)


def delta_e_itp(first: Any, second: Any) -> Any:
    """Colour difference after BT.2124 of two ICtCp."""
    return library().difference.delta_E_ITP(first, second)


def averages(values: Sequence[float]) -> tuple[float, float, float, float]:
    """Mean, median, 95th percentile (linear between ranks) and maximum, by numpy alone."""
    found = np.asarray(values, dtype=np.float64)
    return float(np.mean(found)), float(np.median(found)), float(np.percentile(found, 95.0)), float(np.max(found))
