"""Contrast: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import ClassVar, Literal

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.log.room_note import noted, noted_contrast, room_words
from benchd.analysis.measurement import ResultPart, if_absent
from benchd.analysis.results import Absent, Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.white_figures import CONTRAST, full_screen, white_figures
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True)
class SequentialContrast:
    """White over black, one after the other on the full screen.

    ``white_chromaticity``  at a point of a sweep; None elsewhere, where a luminance block is for it
    """

    method: str
    white: Quantity
    black: Quantity
    ratio: Quantity
    missing: str = ""
    white_chromaticity: Chromaticity | None = None


@dataclass(frozen=True, slots=True)
class Polarity:
    """One checkerboard pattern: mean of its white cells, mean of its black cells (cd/m2), their ratio."""

    name: Literal["normal", "inverse"]
    white: Quantity
    black: Quantity
    ratio: Quantity
    missing: str = ""


@dataclass(frozen=True, slots=True)
class CheckerboardContrast:
    """Both polarities; ``ratio`` is the mean of their two ratios."""

    method: str
    columns: int
    rows: int
    normal: Polarity
    inverse: Polarity
    ratio: Quantity


@dataclass(frozen=True, slots=True)
class Contrast:
    """The kinds of contrast that the plan chose; None for a kind that it did not choose."""

    kind: ClassVar[str] = "contrast"
    block: str
    sequential: SequentialContrast | None
    checkerboard: CheckerboardContrast | None


CHECKERBOARD = DeclaredFigure("checkerboard contrast", "luminance", "1", "more", "checker-contrast", rank=1)


def _figures(one: Contrast, target: Target | None) -> Iterator[Figure]:
    if one.sequential:
        light = (one.sequential.white, one.sequential.black, one.sequential.ratio)
        yield from full_screen(*light, one.block, own=(CONTRAST,))
        if one.sequential.white_chromaticity:
            yield from white_figures(one.sequential.white_chromaticity, one.block, stand_in=True)
    if one.checkerboard:
        board = one.checkerboard
        cells = f"{board.columns} x {board.rows}"
        how = f"{cells} cells, mean of both polarities"
        yield figure_of(CHECKERBOARD, board.ratio, how, one.block, (("cells", cells),))


def _absences(one: Contrast) -> Iterator[Absent]:
    if one.sequential:
        yield from if_absent(f"{one.block}/sequential", one.sequential.ratio)
    if one.checkerboard:
        yield from if_absent(f"{one.block}/checkerboard", one.checkerboard.ratio)


def _with_room(one: Contrast, note: Callable[[Quantity], str]) -> Contrast:
    sequential, board = one.sequential, one.checkerboard
    return replace(
        one,
        sequential=sequential and noted_contrast(sequential, note(sequential.black)),
        checkerboard=board and _board(board, note),
    )


def _board(board: CheckerboardContrast, note: Callable[[Quantity], str]) -> CheckerboardContrast:
    normal, inverse = (noted_contrast(one, note(one.black)) for one in (board.normal, board.inverse))
    said = next(filter(None, (room_words(one.ratio.why) for one in (normal, inverse))), "")
    return replace(board, normal=normal, inverse=inverse, ratio=noted(board.ratio, said))


PART = ResultPart(
    shape=Contrast,
    figures=_figures,
    absences=_absences,
    with_room=_with_room,
    declared=(CONTRAST, CHECKERBOARD),
)
