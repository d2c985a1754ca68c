"""Makes ``sim/spectra.csv`` again from the open spectral data that colour-science ships.

    python -m sim.make_spectra [FILE]

A developer's tool: colour-science is not needed at run time. A test makes the file and compares.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

FIRST_NM, LAST_NM, STEP_NM = 380, 780, 5

HEADER = """\
# source: open spectral data shipped by the colour-science library (BSD-3-Clause), 380 to 780 nm in steps of 5 nm
# xbar ybar zbar: CIE 1931 2-degree colour-matching functions
# led_b4 led_rgb1: CIE illuminants LED-B4 and LED-RGB1 (CIE 015:2018), scaled to a largest value of 1
# phosphor_*: emission of a typical CRT's phosphors (Brainard 1997), each scaled to a largest value of 1
# made by: python -m sim.make_spectra
"""


def table() -> str:
    """The whole file as text: comment lines, one line of column names, one row a wavelength."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns about optional packages that it can do without
        import colour
        from colour.characterisation import MSDS_DISPLAY_PRIMARIES

    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    phosphors = MSDS_DISPLAY_PRIMARIES["Typical CRT Brainard 1997"]
    columns: dict[str, dict[float, float]] = {}
    for index, name in enumerate(("xbar", "ybar", "zbar")):
        columns[name] = _by_wavelength(observer.wavelengths, observer.values[:, index])
    for name, entry in (("led_b4", "LED-B4"), ("led_rgb1", "LED-RGB1")):
        illuminant = colour.SDS_ILLUMINANTS[entry]
        columns[name] = _scaled(_by_wavelength(illuminant.wavelengths, illuminant.values))
    for index, label in enumerate(phosphors.labels):
        emission = _by_wavelength(phosphors.wavelengths, phosphors.values[:, index])
        columns[f"phosphor_{label.lower()}"] = _scaled(emission)

    lines = [",".join(["wavelength_nm", *columns])]
    for wavelength_nm in range(FIRST_NM, LAST_NM + 1, STEP_NM):
        cells = (f"{column[float(wavelength_nm)]:.8g}" for column in columns.values())
        lines.append(f"{wavelength_nm}," + ",".join(cells))
    return HEADER + "\n".join(lines) + "\n"


def _by_wavelength(wavelengths_nm: list[float], values: list[float]) -> dict[float, float]:
    return {
        float(nm): float(value) for nm, value in zip(wavelengths_nm, values, strict=True) if FIRST_NM <= nm <= LAST_NM
    }


def _scaled(column: dict[float, float]) -> dict[float, float]:
    top = max(column.values())
    return {nm: value / top for nm, value in column.items()}


def main() -> int:
    """Write the file named on the command line, or the shipped one."""
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).with_name("spectra.csv")
    target.write_text(table(), encoding="utf-8")
    sys.stderr.write(f"wrote {target}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
