"""The shape of HDR results: peak over window size, sustained light, tone curve, halo, colours at levels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchd.analysis.uncertainty.quantity import Quantity

Ending = Literal["", "clips", "rolls off", "keeps up", "not on the curve", "inconclusive"]
"""How a PQ curve ends: at a hard clip, in a roll-off, beyond the last code; "" for HLG and where steps are missing."""


@dataclass(frozen=True, slots=True)
class Moment:
    """The light at a moment after the patch appeared; ``share`` in % of the best second; ``trend`` in %/s of itself."""

    after_s: float
    luminance: Quantity
    share: Quantity
    trend: Quantity


@dataclass(frozen=True, slots=True)
class PeakWindow:
    """One size of a bright window on black.

    ``pixels`` and ``true_area_percent`` are those that were really lit; ``peak`` is the best second of the first ten,
    which began ``peak_after_s`` after the patch appeared; ``peak_trend`` how fast the light changed in it, %/s;
    ``below_95_after_s`` when the light fell under 95 % of it.
    """

    area_percent: float
    pixels: tuple[int, int] | None
    true_area_percent: float | None
    peak: Quantity
    peak_after_s: float | None
    peak_trend: Quantity
    moments: tuple[Moment, ...]
    below_95_after_s: Quantity


@dataclass(frozen=True, slots=True)
class Peak:
    """All sizes of one block. ``asked_cd_m2``: what the codes ask for, None without an HDR signal.

    ``black_s``  seconds of black before each window
    """

    kind: ClassVar[str] = "peak"
    block: str
    method: str
    code: int
    bits: int
    asked_cd_m2: float | None
    black_s: float
    windows: tuple[PeakWindow, ...]
    greatest: Quantity
    greatest_area_percent: float | None
    full_over_greatest: Quantity
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Sustained:
    """Windows that stay for minutes: the same figures as of `Peak`, at later moments."""

    kind: ClassVar[str] = "sustained"
    block: str
    method: str
    code: int
    bits: int
    asked_cd_m2: float | None
    black_s: float
    minutes: float
    windows: tuple[PeakWindow, ...]
    missing: str = ""


@dataclass(frozen=True, slots=True)
class ToneStep:
    """One grey of an HDR tone curve.

    ``asked_cd_m2``   what the code asks for
    ``target``        the same, clipped at the peak that was measured in this block
    ``error``         100 (L / target - 1), %
    ``error_codes``   signal of the measured light minus that of the target, in codes of the plan's depth and range
    ``delta_i``       colour difference of the greys alone: 720 |difference of the PQ signals| (BT.2124)
    ``delta_e_itp``   colour difference with the colour of the grey, against D65
    ``region``        "tracking", "roll-off" (above the knee) or "dark" (asks for less than 0.1 cd/m2 or than
                      twenty times the black: it tells of the black, not of the curve)
    """

    step: str
    code: int
    signal: float
    asked_cd_m2: float
    target: Quantity
    luminance: Quantity
    error: Quantity
    error_codes: Quantity
    delta_i: Quantity
    delta_e_itp: Quantity
    region: str


@dataclass(frozen=True, slots=True)
class ToneCurve:
    """An HDR tone curve. Averages are over the steps of the region "tracking".

    ``knee``  the luminance asked for at which the screen falls 5 % short for good; ``knee_between`` what the two codes
              around it ask for. Its interval holds their distance
    ``below_clip``  the most that it stays under a hard clip at its own peak above the knee, %, between codes too
    ``ending``  the verdict, by the whole interval of ``below_clip``: the same from any number of steps, or
                inconclusive; ``clip`` says it in words
    """

    kind: ClassVar[str] = "tone_curve"
    block: str
    method: str
    transfer: str
    range: str
    bits: int
    depth: str
    area_percent: float
    peak: Quantity
    black: Quantity
    knee: Quantity
    knee_between: tuple[float, float] | None
    below_clip: Quantity
    ending: Ending
    clip: str
    steps: tuple[ToneStep, ...]
    mean_error: Quantity
    worst_error: Quantity
    worst_code: int | None
    mean_delta_e_itp: Quantity
    max_delta_e_itp: Quantity
    missing: str = ""


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

    ``behaviour``  what the blacks say of the backlight, in words; ``reach_percent`` the largest distance at which
    black is at least twice what it is with the window farthest away, None where it never is.
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


@dataclass(frozen=True, slots=True)
class LevelColour:
    """One colour of one level. ``reached``: luminance over that asked for, %; differences after BT.2124."""

    hue: str
    level_cd_m2: float
    code: tuple[int, int, int]
    asked_luminance_cd_m2: float
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

    ``area_percent``  size of the window; None in a log that does not say it
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
