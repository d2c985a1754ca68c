"""The PQ scale on arrays: signal of 0 to 1 and luminance in cd/m2, after SMPTE ST 2084 and ITU-R BT.2100 Table 4."""

from __future__ import annotations

from typing import Any

import numpy as np

from benchd.analysis.colour.colorimetry import Array

M1, M2 = 2610.0 / 16384.0, 2523.0 / 4096.0 * 128.0
C1, C2, C3 = 3424.0 / 4096.0, 2413.0 / 4096.0 * 32.0, 2392.0 / 4096.0 * 32.0
PEAK_CD_M2 = 10_000.0


def luminance(signal: Any) -> Array:
    """EOTF: cd/m2 of a signal."""
    power = np.maximum(np.asarray(signal, dtype=np.float64), 0.0) ** (1.0 / M2)
    return np.asarray(PEAK_CD_M2 * (np.maximum(power - C1, 0.0) / (C2 - C3 * power)) ** (1.0 / M1))


def signal(luminance_cd_m2: Any) -> Array:
    """Inverse EOTF: the signal of a luminance; negative light counts as none."""
    y = (np.maximum(np.asarray(luminance_cd_m2, dtype=np.float64), 0.0) / PEAK_CD_M2) ** M1
    return np.asarray(((C1 + C2 * y) / (1.0 + C3 * y)) ** M2)


def slope(luminance_cd_m2: Any) -> Array:
    """Derivative of `signal` by luminance, per cd/m2; 0 where there is no light."""
    level = np.maximum(np.asarray(luminance_cd_m2, dtype=np.float64), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        y = (level / PEAK_CD_M2) ** M1
        whole = (C1 + C2 * y) / (1.0 + C3 * y)
        by_y = M2 * whole ** (M2 - 1.0) * (C2 - C1 * C3) / (1.0 + C3 * y) ** 2
        found = by_y * M1 * y / level
    return np.asarray(np.where(level > 0.0, found, 0.0))
