"""The HLG scale on arrays: signal of 0 to 1 and display luminance, after ITU-R BT.2100 Table 5."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from benchd.analysis.colour.colorimetry import Array

A = 0.17883277
B = 1.0 - 4.0 * A
C = 0.5 - A * math.log(4.0 * A)
LUMA = (0.2627, 0.6780, 0.0593)


def system_gamma(peak_cd_m2: float) -> float:
    """1.2 + 0.42 log10(peak / 1000) from 400 to 2000 cd/m2, outside its extended form (BT.2100; from memory)."""
    if 400.0 <= peak_cd_m2 <= 2000.0:
        return 1.2 + 0.42 * math.log10(peak_cd_m2 / 1000.0)
    return float(1.2 * 1.111 ** math.log2(peak_cd_m2 / 1000.0))


def scene(signal: Any) -> Array:
    """Inverse OETF: scene light of 0 to 1."""
    x = np.asarray(signal, dtype=np.float64)
    with np.errstate(over="ignore"):
        high = (np.exp((x - C) / A) + B) / 12.0
    return np.asarray(np.where(x <= 0.5, x * x / 3.0, high))


def oetf(light: Any) -> Array:
    """OETF: signal of a scene light of 0 to 1."""
    x = np.maximum(np.asarray(light, dtype=np.float64), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        high = A * np.log(12.0 * x - B) + C
    return np.asarray(np.where(x <= 1.0 / 12.0, np.sqrt(3.0 * x), high))


def black_lift(peak_cd_m2: float, black_cd_m2: float) -> float:
    """beta = sqrt(3 (Lb / Lw)^(1 / gamma))."""
    return math.sqrt(3.0 * (max(black_cd_m2, 0.0) / peak_cd_m2) ** (1.0 / system_gamma(peak_cd_m2)))


def luminance(signal: Any, peak_cd_m2: float, black_cd_m2: float = 0.0) -> Array:
    """EOTF of a grey: cd/m2 on a display of that peak and black."""
    beta = black_lift(peak_cd_m2, black_cd_m2) if black_cd_m2 > 0.0 else 0.0
    x = np.maximum(0.0, (1.0 - beta) * np.asarray(signal, dtype=np.float64) + beta)
    return np.asarray(peak_cd_m2 * np.maximum(scene(x), 0.0) ** system_gamma(peak_cd_m2))


def signal_of(luminance_cd_m2: Any, peak_cd_m2: float, black_cd_m2: float = 0.0) -> Array:
    """Inverse EOTF of a grey."""
    beta = black_lift(peak_cd_m2, black_cd_m2) if black_cd_m2 > 0.0 else 0.0
    light = np.maximum(np.asarray(luminance_cd_m2, dtype=np.float64), 0.0) / peak_cd_m2
    return np.asarray((oetf(light ** (1.0 / system_gamma(peak_cd_m2))) - beta) / (1.0 - beta))


def display_light(rgb: Any, peak_cd_m2: float) -> Array:
    """Linear red, green, blue (..., 3) in cd/m2 of an HLG signal (..., 3): inverse OETF, then the OOTF; black 0."""
    light = scene(rgb)
    luma = np.asarray(light @ np.array(LUMA))[..., None]
    gain = np.where(luma > 0.0, np.maximum(luma, 1e-300) ** (system_gamma(peak_cd_m2) - 1.0), 0.0)
    return np.asarray(peak_cd_m2 * gain * light)
