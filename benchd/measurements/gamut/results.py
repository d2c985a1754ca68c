"""The gamut of a screen: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True)
class GamutColour:
    """One full-drive colour: cd/m2, CIE 1931 x, y, CIE 1976 u', v'."""

    name: str
    code: tuple[int, int, int]
    luminance: Quantity
    x: Quantity
    y: Quantity
    u_prime: Quantity
    v_prime: Quantity


@dataclass(frozen=True, slots=True)
class HueShift:
    """How far a full colour is turned from the target's, in degrees; positive: red to yellow, green, cyan, blue.

    ``uv``   hue angle about white in CIE 1976 u', v' (CIE 15: h_uv), each colour about its own white
    ``lab``  CIELAB hue angle h_ab, each colour with its own white as Lab white
    """

    name: str
    uv: Quantity
    lab: Quantity


@dataclass(frozen=True, slots=True)
class SpaceCoverage:
    """The triangle of the primaries against a space, %, in both diagrams: one without its diagram means nothing.

    ``coverage_*``    area that screen and space share over the space's area, at most 100
    ``area_ratio_*``  the screen's area over the space's; may exceed 100, and is no measure of what is covered
    ``volume_ratio``  gamut volume in CIELAB over the space's, each with its own white as Lab white; may exceed 100
    ``corners``       red, green and blue of the space, CIE 1931 x, y; ``white`` its white point
    """

    space: str
    label: str
    coverage_xy: Quantity
    coverage_uv: Quantity
    area_ratio_xy: Quantity
    area_ratio_uv: Quantity
    volume_ratio: Quantity
    corners: tuple[tuple[float, float], ...] = ()
    white: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class GamutVolume:
    """Volume enclosed by the faces of the RGB cube, in CIELAB or ICtCp. Without its ``white`` it means nothing.

    ``white``  "measured": the measured white is the Lab white; "d50": after Bradford adaptation to D50;
               "ictcp": no white, the volume in ICtCp of absolute light, for screens of high dynamic range
    ``words``  the same as a sentence, for the page
    """

    white: Literal["measured", "d50", "ictcp"]
    words: str
    volume: Quantity


@dataclass(frozen=True, slots=True)
class Additivity:
    """Sum of the luminances of the primaries over that of their mixed colour, black subtracted from each of them.

    For white (L_R + L_G + L_B - 3 Lblack) / (Lwhite - Lblack): 1 for an additive screen, below 1 where a white
    sub-pixel or a boost adds light to the mixed colour.
    """

    name: str
    ratio: Quantity


@dataclass(frozen=True, slots=True)
class Gamut:
    """The gamut of a screen.

    ``volume_from``  what the volume was computed from, as a sentence: measured faces, or an additive model
    ``target``       name of the target that the hue shifts are against; "" without one
    """

    kind: ClassVar[str] = "gamut"
    block: str
    method: str
    patch: str
    colours: tuple[GamutColour, ...]
    coverage: tuple[SpaceCoverage, ...]
    additivity: tuple[Additivity, ...]
    volume_from: str
    volumes: tuple[GamutVolume, ...]
    target: str
    hue_shifts: tuple[HueShift, ...]
    missing: str = ""


UV = DeclaredFigure(
    *("coverage of {} in u'v'", "gamut", "%", "more"),
    head="coverage\n{}\nu'v'",
    rank=1,
    members={"sRGB / BT.709": "srgb-coverage", "P3-D65": "p3-coverage", "BT.2020": "bt2020-coverage"},
    optional=" in u'v'",
)
XY = DeclaredFigure(
    *("coverage of {} in xy", "gamut", "%", "more"),
    head="coverage\n{}\nxy",
    rank=4,
    members={"sRGB / BT.709": ""},
)
FULL = DeclaredFigure("full {}", "gamut", "xy", "nearer", headline=False)


def _figures(one: Gamut, target: Target | None) -> Iterator[Figure]:
    under = (("patch", one.patch),)
    for space in one.coverage:
        for declared, diagram, quantity in (
            (UV, "CIE 1976", space.coverage_uv),
            (XY, "CIE 1931", space.coverage_xy),
        ):
            how = f"shared area over the space's, {diagram} diagram, {one.patch}"
            yield figure_of(declared.of(space.label), quantity, how, one.block, under)
    for colour in one.colours:
        if colour.name in ("red", "green", "blue", "white"):
            for diagram, quantity in (("u'", colour.u_prime), ("v'", colour.v_prime)):
                declared = FULL.of(f"{colour.name} {diagram}")
                yield figure_of(declared, quantity, f"CIE 1976, {one.patch}", one.block, under)


def _parts(one: Gamut) -> Iterator[tuple[str, Quantity]]:
    yield from ((f"coverage/{space.space}", space.coverage_uv) for space in one.coverage)
    yield from ((f"volume/{volume.white}", volume.volume) for volume in one.volumes)


PART = ResultPart(
    shape=Gamut,
    figures=_figures,
    absences=absences_of(parts=_parts, missing_alone=True),
    keys={
        **{(Gamut, collection): "name" for collection in ("colours", "additivity", "hue_shifts")},
        (Gamut, "coverage"): "space",
        (Gamut, "volumes"): "white",
    },
    target_in_hdr=True,
    declared=(UV, XY, FULL),
)
