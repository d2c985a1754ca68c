"""Uniformity over a grid of places: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.measurement import ResultPart, if_absent
from benchd.analysis.results import Absent, Chromaticity
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True)
class UniformityCell:
    """One place of a uniformity grid; row 1, column 1 is top left. Differences are from the centre cell.

    ``deviation`` in % of the centre's luminance, ``delta_uv`` in u', v', ``delta_e`` CIEDE2000 with the
    centre as white.
    """

    row: int
    column: int
    at: tuple[float, float] | None  # fractions of width and height; None when it was not measured
    luminance: Quantity
    chromaticity: Chromaticity
    deviation: Quantity
    delta_uv: Quantity
    delta_e: Quantity


@dataclass(frozen=True, slots=True)
class UniformityLevel:
    """One level of a grid. ``grid`` holds rows from the top, each from the left.

    ``non_uniformity``  (Lmax - Lmin) / Lmax, %         ``min_over_max``  Lmin / Lmax
    ``worst_deviation`` deviation from the centre of largest size, % with its sign, at ``worst_place``
    ``max_delta_uv``    largest distance from the centre; ``max_pair_delta_uv`` over all pairs of cells
    """

    level: str
    percent: float
    code: int
    columns: int
    rows: int
    centre: str | None  # "r3c3"; None for a grid without a centre cell
    grid: tuple[tuple[UniformityCell, ...], ...]
    mean: Quantity
    non_uniformity: Quantity
    min_over_max: Quantity
    worst_deviation: Quantity
    worst_place: str | None
    max_delta_uv: Quantity
    max_delta_uv_place: str | None
    max_pair_delta_uv: Quantity
    max_pair_places: tuple[str, str] | None
    max_delta_e: Quantity
    max_delta_e_place: str | None
    delta_e_convention: str
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Uniformity:
    """All levels of one grid."""

    kind: ClassVar[str] = "uniformity"
    block: str
    method: str
    levels: tuple[UniformityLevel, ...]


TOPIC = "uniformity"
NON_UNIFORMITY = DeclaredFigure(
    *("non-uniformity of {}", TOPIC, "%", "less"), rank=1, member=r"\S+", members={"white": "non-uniformity"}
)
COLOUR_NON_UNIFORMITY = DeclaredFigure(
    *("colour non-uniformity of {}", TOPIC, "u'v'", "less"),
    rank=2,
    member=r"\S+",
    members={"white": "colour-non-uniformity"},
)
BETWEEN = ("between", "any two places")
"""Said of both, since a place's deviation from the centre is another figure, and a smaller one."""
DEVIATION = DeclaredFigure("deviation of {}", TOPIC, "%", "nearer", headline=False, claimable=False)


def _figures(one: Uniformity, target: Target | None) -> Iterator[Figure]:
    for level in one.levels:
        grid, under = f"{level.columns} x {level.rows} places", _of_grid(level)
        for declared, quantity, how in (
            (NON_UNIFORMITY, level.non_uniformity, f"(Lmax - Lmin) / Lmax, {grid}"),
            (COLOUR_NON_UNIFORMITY, level.max_pair_delta_uv, f"largest u'v' distance of two of {grid}"),
        ):
            yield figure_of(declared.of(level.level), quantity, how, one.block, (*under, BETWEEN))
        for cell in (cell for row in level.grid for cell in row):
            declared = DEVIATION.of(f"{level.level} in r{cell.row}c{cell.column}")
            yield figure_of(declared, cell.deviation, "from the centre", one.block, under[:1])


def _of_grid(level: UniformityLevel) -> Conditions:
    """The places: how many, and how far from the edge the first one is."""
    first = level.grid[0][0].at if level.grid and level.grid[0] else None
    grid = ("grid", f"{level.columns} x {level.rows}")
    return (grid,) if first is None else (grid, ("margin", f"{100.0 * min(first):g} %"))


def _absences(one: Uniformity) -> Iterator[Absent]:
    for level in one.levels:
        path = f"{one.block}/{level.level}"
        if level.missing:
            yield Absent(path, level.missing)
            continue
        yield from if_absent(f"{path}/non_uniformity", level.non_uniformity)
        yield from if_absent(f"{path}/worst_deviation", level.worst_deviation)
        yield from if_absent(f"{path}/max_delta_uv", level.max_delta_uv)
        yield from if_absent(f"{path}/max_pair_delta_uv", level.max_pair_delta_uv)


PART = ResultPart(
    shape=Uniformity,
    figures=_figures,
    absences=_absences,
    keys={(Uniformity, "levels"): "level"},
    declared=(NON_UNIFORMITY, COLOUR_NON_UNIFORMITY, DEVIATION),
)
