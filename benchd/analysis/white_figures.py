"""Figures of full-screen white and black, which several kinds of measurement give: one declaration of each.

In a sweep the first block of a point that has one gives it; elsewhere the block that is made for it alone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.results import Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure

WHITE = DeclaredFigure("white luminance", "luminance", "cd/m2", "more", "white", "white")
BLACK = DeclaredFigure("black luminance", "luminance", "cd/m2", "less", "black", "black", rank=1)
CONTRAST = DeclaredFigure("contrast", "luminance", "1", "more", "contrast")

_COLOUR = "colour of white"
COLOUR = (
    DeclaredFigure("white x", _COLOUR, "xy", "nearer", "white-x", "white\nx", rank=4),
    DeclaredFigure("white y", _COLOUR, "xy", "nearer", "white-y", "white\ny", rank=4),
    DeclaredFigure("white u'", _COLOUR, "xy", "nearer", head="white\nu'", rank=5),
    DeclaredFigure("white v'", _COLOUR, "xy", "nearer", head="white\nv'", rank=5),
    DeclaredFigure("white CCT", _COLOUR, "K", "nearer", "cct", "CCT"),
    DeclaredFigure("white Duv", _COLOUR, "Duv", "nearer", "duv", "Duv", rank=3),
)
"""The colour of full-screen white: x, y, u', v', CCT, Duv."""
_HOW = (
    *("CIE 1931", "CIE 1931", "CIE 1976", "CIE 1976"),
    *("correlated colour temperature", "distance from the Planckian locus, + greenish"),
)


def full_screen(
    white: Quantity, black: Quantity, contrast: Quantity, block: str, own: Collection[DeclaredFigure] = ()
) -> Iterator[Figure]:
    """White, black and their contrast of a block; it is made for its ``own`` ones of them."""
    for declared, quantity in ((WHITE, white), (BLACK, black), (CONTRAST, contrast)):
        how = "white over black, full screen" if declared is CONTRAST else "full screen, centre"
        yield figure_of(declared, quantity, how, block, stand_in=declared not in own)


def white_figures(colour: Chromaticity, block: str, *, stand_in: bool = False) -> Iterator[Figure]:
    """The colour of full-screen white."""
    quantities = (colour.x, colour.y, colour.u_prime, colour.v_prime, colour.cct, colour.duv)
    for declared, quantity, how in zip(COLOUR, quantities, _HOW, strict=True):
        yield figure_of(declared, quantity, how, block, stand_in=stand_in)
