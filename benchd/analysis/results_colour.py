"""The shape of colour results: the gamut of a screen, and a list of colours against what they should be.

The same rules as in `benchd.analysis.results`: every figure is a `Quantity`; absent ones say why.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchd.analysis.uncertainty.quantity import Quantity

Convention = Literal["white_luminance", "white_measured", "absolute"]
Aim = Literal["target_clamped", "target_unclamped"]


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
    ``area_ratio_*``  the screen's area over the space's; may exceed 100, and says nothing of what is covered
    ``volume_ratio``  gamut volume in CIELAB over the space's, each with its own white as Lab white; may exceed 100
    """

    space: str
    label: str
    coverage_xy: Quantity
    coverage_uv: Quantity
    area_ratio_xy: Quantity
    area_ratio_uv: Quantity
    volume_ratio: Quantity


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


@dataclass(frozen=True, slots=True)
class ColourError:
    """CIEDE2000 of one colour, and its signed parts, sample minus target.

    ``total``     the colour difference
    ``lightness`` the term dL' / SL, ``chroma`` dC' / SC, ``hue`` dH' / SH: their squares and the formula's rotation
                  term make the square of ``total``. ``hue`` is absent where the target or the colour can't be told
                  from grey
    """

    total: Quantity
    lightness: Quantity
    chroma: Quantity
    hue: Quantity


@dataclass(frozen=True, slots=True)
class ColourPatch:
    """One colour of a list.

    ``code``            the codes that were shown; its target is made from them, so that rounding is no error
    ``outside``         the space does not hold the colour: the codes are clamped
    ``x``, ``y``, ``luminance``  as measured; ``target_x``, ``target_y`` and ``target_luminance``, with the measured
                        white's luminance, under the aim that the plan chose
    ``error``           under the plan's aim and its convention of white, split into parts
    ``white_luminance``, ``white_measured``, ``absolute``  CIEDE2000 under each convention, with the plan's aim
    ``other_aim``       CIEDE2000 under the plan's convention with the aim that the plan did not choose
    ``cie76``, ``cie94``  under the plan's convention; None where the plan does not ask
    """

    name: str
    code: tuple[int, int, int]
    outside: bool
    luminance: Quantity
    x: Quantity
    y: Quantity
    target_luminance: Quantity
    target_x: float | None
    target_y: float | None
    error: ColourError
    white_luminance: Quantity
    white_measured: Quantity
    absolute: Quantity
    other_aim: Quantity
    cie76: Quantity | None
    cie94: Quantity | None


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Colour differences of all colours of a list under one aim, one convention of white and one formula.

    ``worst`` names the colours with the largest differences, largest first; percentiles are linear between ranks.
    """

    name: str
    aim: Aim
    convention: Convention
    formula: str
    white: str
    adaptation: str
    mean: Quantity
    median: Quantity
    percentile_95: Quantity
    maximum: Quantity
    worst: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Colours:
    """A list of colours against a space.

    ``list``, ``source``  which colours, and where their figures are from; ``space`` the space that made the codes
    ``primary``           name of the accuracy that the plan chose; `accuracy` holds all
    ``outside``           how many colours the space does not hold
    """

    kind: ClassVar[str] = "colours"
    block: str
    method: str
    list: str
    source: str
    patch: str
    space: str
    curve: str
    aim: Aim
    black: str
    primary: Convention
    outside: int
    white_luminance: Quantity
    white_x: Quantity
    white_y: Quantity
    accuracy: tuple[Accuracy, ...]
    patches: tuple[ColourPatch, ...]
    missing: str = ""
