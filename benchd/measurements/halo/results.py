"""Black beside bright: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.log.room_note import noted
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True)
class HaloDistance:
    """Black at the meter with a bright window beside it; ``distance_percent`` of the width to the window's edge."""

    side: str
    distance_percent: float
    black: Quantity
    contrast: Quantity
    rise: Quantity


@dataclass(frozen=True, slots=True)
class HaloBoard:
    """A checkerboard of ``cells`` x ``cells``, both polarities read at the middle cell."""

    cells: int
    distance_percent: float
    white: Quantity
    black: Quantity
    contrast: Quantity


@dataclass(frozen=True, slots=True)
class Halo:
    """Black beside bright. ``rise`` of a distance: its black over the all-black screen's.

    ``behaviour``      what follows from the blacks for the backlight, in words
    ``reach_percent``  the largest distance at which black is at least twice what it is with the window farthest away;
                       None where it never is
    """

    kind: ClassVar[str] = "halo"
    block: str
    method: str
    code: int
    bits: int
    area_percent: float
    window: Quantity
    black: Quantity
    sequential: Quantity
    beside: tuple[HaloDistance, ...]
    boards: tuple[HaloBoard, ...]
    near_over_far: Quantity
    reach_percent: float | None
    behaviour: str
    missing: str = ""


HALO = DeclaredFigure("halo contrast", "HDR", "1", "more", "halo-contrast", rank=1)
BOARD = DeclaredFigure(
    *("contrast of a {} x {} board", "HDR", "1", "more"),
    head="board\n{} x {}",
    rank=2,
    member="[0-9]+",
    members={"3": ""},
)


def _figures(one: Halo, target: Target | None) -> Iterator[Figure]:
    code = (("code", f"{one.code} of {one.bits} bits"),)
    if one.beside:
        side = min(one.beside, key=lambda each: each.distance_percent)
        far = f"{side.distance_percent:g} % of the width"
        how = f"window of {one.area_percent:g} % over the black {far} beside it"
        under = (("window", f"{one.area_percent:g} %"), ("distance", f"{far}, {side.side}"), *code)
        yield figure_of(HALO, side.contrast, how, one.block, under)
    for board in one.boards:
        how = "bright cells over the dark one in the middle"
        yield figure_of(BOARD.of(str(board.cells)), board.contrast, how, one.block, code)


def _parts(one: Halo) -> Iterator[tuple[str, Quantity]]:
    return ((_of_board(board), board.contrast) for board in one.boards)


def _with_room(one: Halo, note: Callable[[Quantity], str]) -> Halo:
    words = note(one.black)
    return replace(
        one,
        black=noted(one.black, words),
        sequential=noted(one.sequential, words),
        beside=tuple(replace(each, contrast=noted(each.contrast, note(each.black))) for each in one.beside),
        boards=tuple(replace(each, contrast=noted(each.contrast, note(each.black))) for each in one.boards),
    )


def _of_distance(one: HaloDistance) -> str:
    return f"{one.side}-{one.distance_percent:g}"


def _of_board(one: HaloBoard) -> str:
    return f"board-{one.cells}"


PART = ResultPart(
    shape=Halo,
    figures=_figures,
    absences=absences_of(parts=_parts),
    with_room=_with_room,
    keys={(Halo, "beside"): _of_distance, (Halo, "boards"): _of_board},
    declared=(HALO, BOARD),
)
