"""Figures of full-screen white and black, which several kinds of measurement give: one definition of each.

In a sweep the first block of a point that has one gives it; elsewhere the block that is made for it alone.
"""

from __future__ import annotations

from collections.abc import Iterator

from benchd.analysis.catalogue_figure import Better, Figure
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity

CONTRAST = "white over black, full screen"
"""What a contrast means."""


def full_screen(white: Quantity, black: Quantity, contrast: Quantity | None, block: str) -> Iterator[Figure]:
    """White, black and their contrast of a block that is made for something else."""
    for name, short, unit, quantity in (
        ("white luminance", "white", "cd/m2", white),
        ("black luminance", "black", "cd/m2", black),
        ("contrast", "contrast", "1", contrast),
    ):
        if quantity is not None:
            better: Better = "less" if short == "black" else "more"
            how = "full screen, centre" if unit == "cd/m2" else CONTRAST
            yield Figure(name, "luminance", unit, better, quantity, how, block, short=short, stand_in=True)


def white_figures(colour: Chromaticity, block: str, *, stand_in: bool = False) -> Iterator[Figure]:
    """The colour of full-screen white."""
    for name, short, unit, quantity, how in (
        ("white x", "white-x", "xy", colour.x, "CIE 1931"),
        ("white y", "white-y", "xy", colour.y, "CIE 1931"),
        ("white u'", "", "xy", colour.u_prime, "CIE 1976"),
        ("white v'", "", "xy", colour.v_prime, "CIE 1976"),
        ("white CCT", "cct", "K", colour.cct, "correlated colour temperature"),
        ("white Duv", "duv", "Duv", colour.duv, "distance from the Planckian locus, + greenish"),
    ):
        yield Figure(name, "colour of white", unit, "nearer", quantity, how, block, short=short, stand_in=stand_in)
