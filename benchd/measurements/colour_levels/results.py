"""Colours at levels: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True)
class LevelColour:
    """One colour of one level. ``reached``: luminance over the requested one, %; differences after BT.2124."""

    hue: str
    level_cd_m2: float
    code: tuple[int, int, int]
    requested_luminance_cd_m2: float
    luminance: Quantity
    x: Quantity
    y: Quantity
    reached: Quantity
    delta_e_itp: Quantity
    d_i: Quantity
    d_t: Quantity
    d_p: Quantity


@dataclass(frozen=True, slots=True)
class ColourLevels:
    """Colours at levels: ``inside`` names whose primaries they are; carried in BT.2020.

    ``area_percent``  size of the window; None in a log without it
    """

    kind: ClassVar[str] = "colour_levels"
    block: str
    method: str
    transfer: str
    bits: int
    inside: str
    area_percent: float | None
    colours: tuple[LevelColour, ...]
    mean_delta_e_itp: Quantity
    max_delta_e_itp: Quantity
    worst: str
    missing: str = ""


MEAN = DeclaredFigure("HDR colour delta E ITP mean", "HDR", "dE00", "less", head="colour\ndE ITP\nmean", rank=1)
LARGEST = DeclaredFigure(
    *("HDR colour delta E ITP maximum", "HDR", "dE00", "less"), head="colour\ndE ITP\nmaximum", rank=2
)


def _figures(one: ColourLevels, target: Target | None) -> Iterator[Figure]:
    how, under = f"colours of {one.inside} at levels, ITU-R BT.2124", _conditions(one)
    yield figure_of(MEAN, one.mean_delta_e_itp, how, one.block, under)
    yield figure_of(LARGEST, one.max_delta_e_itp, how, one.block, under)


def _conditions(one: ColourLevels) -> Conditions:
    """Which colours of whose primaries, at which levels, and the window."""
    steps = ", ".join(f"{each:g}" for each in dict.fromkeys(colour.level_cd_m2 for colour in one.colours))
    hues = ", ".join(dict.fromkeys(colour.hue for colour in one.colours))
    window = "not recorded" if one.area_percent is None else f"{one.area_percent:g} %"
    return (("colours of", one.inside), ("hues", hues), ("levels", f"{steps} cd/m2"), ("window", window))


def _of_colour(one: LevelColour) -> str:
    return f"{one.hue}-{one.level_cd_m2:g}"


PART = ResultPart(
    shape=ColourLevels,
    figures=_figures,
    absences=absences_of("mean_delta_e_itp"),
    keys={(ColourLevels, "colours"): _of_colour},
    declared=(MEAN, LARGEST),
)
