"""Full-screen white and black: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.log.room_note import noted_black
from benchd.analysis.measurement import ResultPart, if_absent
from benchd.analysis.results import Absent, Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity, ratio
from benchd.analysis.white_figures import BLACK, COLOUR, WHITE, full_screen, white_figures


@dataclass(frozen=True, slots=True)
class Luminance:
    """Full-screen white and black (cd/m2) and the chromaticity of white."""

    kind: ClassVar[str] = "luminance"
    block: str
    method: str
    white: Quantity
    black: Quantity
    white_chromaticity: Chromaticity
    missing: str = ""


def _figures(one: Luminance, target: Target | None) -> Iterator[Figure]:
    yield from full_screen(one.white, one.black, ratio(one.white, one.black), one.block, own=(WHITE, BLACK))
    yield from white_figures(one.white_chromaticity, one.block)


def _absences(one: Luminance) -> Iterator[Absent]:
    yield from if_absent(f"{one.block}/white", one.white)
    yield from if_absent(f"{one.block}/black", one.black)


PART = ResultPart(
    shape=Luminance,
    figures=_figures,
    absences=_absences,
    with_room=noted_black,
    declared=(WHITE, BLACK, *COLOUR),
)
