"""Makes benchd/analysis/colour/planckian.py: the Planckian locus in CIE 1960 u, v.

Sources: CIE 1931 2-degree observer, 1 nm from 360 to 830 nm, as stored in colour-science; Planck's law with
c2 = 1.4387768775e-2 m K (exact SI). Run as ``python tests/reference/make_planckian.py`` from the project's
root, with the development extra installed; a test compares the committed table with a fresh one.
"""

from __future__ import annotations

import pathlib

import numpy as np
from numpy.typing import NDArray

C2_M_K = 1.4387768775e-2
STEP_MK = 5.0  # reciprocal megakelvin
LAST_MK = 1000.0

HEAD = '''"""Planckian locus in CIE 1960 u, v: made by tests/reference/make_planckian.py; do not edit.

Row i belongs to the reciprocal temperature i * STEP_MK in 1/MK (row 0: infinite temperature; 1/MK = mired).
Sources: CIE 1931 2-degree observer (1 nm, 360 to 830 nm); Planck's law with c2 = 1.4387768775e-2 m K.
"""

STEP_MK = 5.0  # reciprocal megakelvin
# fmt: off
UV = (
{rows}
)
# fmt: on
'''


def locus(reciprocal_mk: NDArray[np.float64]) -> NDArray[np.float64]:
    """u, v (shape (n, 2)) of the Planckian radiator at each reciprocal temperature in 1/MK (shape (n,))."""
    import colour

    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    wavelength_m = observer.wavelengths[:, None] * 1e-9
    inverse_k = reciprocal_mk[None, :] * 1e-6
    exponent = C2_M_K * inverse_k / wavelength_m
    # Multiplied by the exponent's slope, so that infinite temperature has its limit (Rayleigh and Jeans).
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        factor = np.where(exponent == 0.0, 1.0, exponent / np.expm1(exponent))
    radiance = wavelength_m**-4 * factor
    x, y, z = observer.values.T @ radiance
    return np.stack([4.0 * x, 6.0 * y], axis=-1) / (x + 15.0 * y + 3.0 * z)[:, None]


def table() -> NDArray[np.float64]:
    """The committed table, afresh."""
    return locus(np.arange(0.0, LAST_MK + STEP_MK / 2.0, STEP_MK))


if __name__ == "__main__":
    rows = "\n".join(f"    ({u:.10f}, {v:.10f})," for u, v in table())
    out = pathlib.Path(__file__).resolve().parents[2] / "benchd" / "analysis" / "colour" / "planckian.py"
    out.write_text(HEAD.format(step=STEP_MK, rows=rows))
