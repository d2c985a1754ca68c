"""Full-screen white and black: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.log.room_note import noted
from benchd.analysis.measurement import ResultPart, if_absent
from benchd.analysis.results import Absent, Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity, ratio
from benchd.analysis.white_figures import CONTRAST, white_figures
from benchd.measurements.claimable import Claimable


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
    how = "full screen, centre"
    yield Figure("white luminance", "luminance", "cd/m2", "more", one.white, how, one.block, short="white")
    yield Figure("black luminance", "luminance", "cd/m2", "less", one.black, how, one.block, short="black")
    contrast = ratio(one.white, one.black)
    yield Figure("contrast", "luminance", "1", "more", contrast, CONTRAST, one.block, short="contrast", stand_in=True)
    yield from white_figures(one.white_chromaticity, one.block)


def _absences(one: Luminance) -> Iterator[Absent]:
    yield from if_absent(f"{one.block}/white", one.white)
    yield from if_absent(f"{one.block}/black", one.black)


def _with_room(one: Luminance, note: Callable[[Quantity], str]) -> Luminance:
    return replace(one, black=noted(one.black, note(one.black)))


PART = ResultPart(
    shape=Luminance,
    figures=_figures,
    absences=_absences,
    with_room=_with_room,
    claimable=(
        Claimable("white luminance", "cd/m2", "more"),
        Claimable("black luminance", "cd/m2", "less"),
        Claimable("white x", "1", "nearer"),
        Claimable("white y", "1", "nearer"),
        Claimable("white u'", "1", "nearer"),
        Claimable("white v'", "1", "nearer"),
        Claimable("white CCT", "K", "nearer"),
        Claimable("white Duv", "1", "nearer"),
    ),
)
