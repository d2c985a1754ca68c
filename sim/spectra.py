"""Spectra of the simulated bench: reads ``spectra.csv`` and turns a spectrum into tristimulus values.

Plain floats on a fixed grid (380 to 780 nm in steps of 5 nm); start-up matters more here than arrays.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import NamedTuple

Spectrum = tuple[float, ...]
Triple = tuple[float, float, float]

FIRST_NM, STEP_NM = 380.0, 5.0


class Observer(NamedTuple):
    """Three responsivities on the grid: the CIE 1931 observer, or a colorimeter's filters."""

    x: Spectrum
    y: Spectrum
    z: Spectrum


@cache
def column(name: str) -> Spectrum:
    """One column of the shipped file, such as ``"led_b4"``. Raises ``KeyError`` for another name."""
    return _columns()[name]


@cache
def _columns() -> dict[str, Spectrum]:
    text = Path(__file__).with_name("spectra.csv").read_text(encoding="utf-8")
    names, *rows = (line.split(",") for line in text.splitlines() if not line.startswith("#"))
    return {name: tuple(float(row[index]) for row in rows) for index, name in enumerate(names)}


@cache
def observer(shift_nm: float = 0.0) -> Observer:
    """The CIE 1931 2-degree observer, or filters that copy it with all curves ``shift_nm`` towards red.

    Shifted curves are scaled to the true observer's sums, as if the meter had been adjusted on an
    equal-energy source; what remains is spectral mismatch.
    """
    curves = []
    for name in ("xbar", "ybar", "zbar"):
        true = column(name)
        moved = true if shift_nm == 0.0 else tuple(_shifted(true, shift_nm))
        scale = sum(true) / sum(moved)
        curves.append(tuple(value * scale for value in moved))
    return Observer(*curves)


def _shifted(curve: Spectrum, shift_nm: float) -> list[float]:
    """``curve`` moved by ``shift_nm``, linear between grid points, constant beyond the ends."""
    last = len(curve) - 1
    moved = []
    for index in range(len(curve)):
        at = min(max(index - shift_nm / STEP_NM, 0.0), float(last))
        left = min(int(at), last - 1)
        moved.append(curve[left] + (at - left) * (curve[left + 1] - curve[left]))
    return moved


def tristimulus(spectrum: Spectrum, seen_by: Observer) -> Triple:
    """XYZ of ``spectrum`` up to one common factor: the sum over the grid (CIE 15:2018, 7.1)."""
    x, y, z = (sum(s * c for s, c in zip(spectrum, curve, strict=True)) for curve in seen_by)
    return (x, y, z)
