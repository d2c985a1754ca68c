"""The simulated displays. All are invented, with invented names and figures; only the spectra are open data.

A `DisplayModel` holds the figures of one display; `Display` is that display with everything computed
that does not change: spectra of its primaries, their scale, and its laws (EOTF, falloff, limiting).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sim.spectra import FIRST_NM, STEP_NM, Observer, Spectrum, Triple, column, observer, tristimulus

if TYPE_CHECKING:
    from sim.hdr import Hdr

Amounts = tuple[float, float, float, float]
"""Light in units of the display's own primaries: red, green, blue, and the leak through black."""


@dataclass(frozen=True, slots=True)
class Filter:
    """A smooth invented colour filter: transmission rises at one wavelength and falls at another.

    ``None`` leaves that side open. ``leak`` is what passes everywhere.
    """

    rise_nm: float | None
    rise_width_nm: float
    fall_nm: float | None
    fall_width_nm: float
    leak: float = 0.002

    def through(self, light: Spectrum) -> Spectrum:
        """The spectrum behind the filter."""
        return tuple(self._transmission(FIRST_NM + STEP_NM * i) * value for i, value in enumerate(light))

    def _transmission(self, nm: float) -> float:
        rise = 1.0 if self.rise_nm is None else _logistic((nm - self.rise_nm) / self.rise_width_nm)
        fall = 1.0 if self.fall_nm is None else _logistic((self.fall_nm - nm) / self.fall_width_nm)
        return self.leak + (1.0 - self.leak) * rise * fall


def _logistic(value: float) -> float:
    return 1.0 / (1.0 + math.exp(-value))


@dataclass(frozen=True, slots=True)
class DisplayModel:
    """The figures of one invented display. Triples are in the order red, green, blue."""

    name: str
    label: str
    panel: str  # "lcd" or "emissive"
    light: tuple[str, str, str]  # column of spectra.csv that each primary starts from
    filters: tuple[Filter, Filter, Filter]
    white_xy: tuple[float, float]
    white_cd_m2: float  # white at the centre without brightness limiting
    black_cd_m2: float
    black_tint: Triple  # strength of each primary in the leak, relative to white
    gamma: Triple
    bow: float  # S-shape on top of the power law, below 1 so that it stays monotone
    falloff: float  # loss at the corners, fraction
    tilt: tuple[float, float]  # gain per width to the right and per height downwards
    colour_tilt: Triple  # extra gain of each primary per width to the right
    corner_glow: float  # extra leak at the corners, fraction
    glare: float  # share of the screen's mean light that veils every place
    rise_tau_s: float
    fall_tau_s: float
    limiting: float  # luminance of a patch is white / (1 + limiting x average picture level)
    limiting_tau_s: float
    cold_loss: Triple  # fraction of each primary's light missing at a cold start
    warm_up_tau_s: float
    dimmest: float  # luminance at brightness 0, fraction of that at 100
    slow_share: float = 0.0  # share of every step that follows with a second, slower time constant
    slow_tau_s: float = 0.0
    dimmed: float = 1.0  # leak that is left where a dimming zone shows nothing but black, fraction
    dimming_tau_s: float = 0.0
    hdr: Hdr | None = None  # its HDR mode: then it takes PQ or HLG codes and no others


OFFICE_LCD = DisplayModel(
    name="office-lcd",
    label="Plover 27 (invented), office LCD",
    panel="lcd",
    light=("led_b4", "led_b4", "led_b4"),
    filters=(
        Filter(608.0, 12.0, None, 1.0),
        Filter(482.0, 9.0, 578.0, 13.0),
        Filter(None, 1.0, 493.0, 14.0),
    ),
    white_xy=(0.3085, 0.3225),
    white_cd_m2=350.0,
    black_cd_m2=350.0 / 1100.0,
    black_tint=(0.85, 0.98, 1.30),
    gamma=(2.18, 2.20, 2.25),
    bow=0.015,
    falloff=0.13,
    tilt=(0.03, -0.04),
    colour_tilt=(0.006, 0.0, -0.018),
    corner_glow=0.35,
    glare=0.0006,
    rise_tau_s=0.012,
    fall_tau_s=0.030,
    limiting=0.0,
    limiting_tau_s=0.03,
    cold_loss=(0.045, 0.050, 0.058),
    warm_up_tau_s=600.0,
    dimmest=0.12,
)

WIDE_GAMUT_LCD = DisplayModel(
    name="wide-gamut-lcd",
    label="Curlew 32 (invented), wide-gamut LCD",
    panel="lcd",
    light=("led_rgb1", "led_rgb1", "led_rgb1"),
    filters=(
        Filter(586.0, 5.0, None, 1.0),
        Filter(529.0, 14.0, 567.0, 8.0),
        Filter(None, 1.0, 478.0, 9.0),
    ),
    white_xy=(0.3120, 0.3305),
    white_cd_m2=450.0,
    black_cd_m2=450.0 / 1400.0,
    black_tint=(0.95, 0.98, 1.15),
    gamma=(2.21, 2.20, 2.19),
    bow=-0.02,
    falloff=0.09,
    tilt=(-0.02, 0.02),
    colour_tilt=(-0.008, 0.0, 0.010),
    corner_glow=0.20,
    glare=0.0005,
    rise_tau_s=0.008,
    fall_tau_s=0.025,
    limiting=0.0,
    limiting_tau_s=0.03,
    cold_loss=(0.055, 0.048, 0.040),
    warm_up_tau_s=700.0,
    dimmest=0.15,
)

EMISSIVE = DisplayModel(
    name="emissive",
    label="Avocet 27 (invented), emissive panel",
    panel="emissive",
    light=("phosphor_red", "phosphor_green", "phosphor_blue"),
    filters=(
        Filter(589.0, 9.0, None, 1.0, leak=0.001),
        Filter(504.0, 9.0, 575.0, 5.0, leak=0.001),
        Filter(None, 1.0, 520.0, 6.0, leak=0.001),
    ),
    white_xy=(0.3110, 0.3260),
    white_cd_m2=860.0,
    black_cd_m2=0.0003,
    black_tint=(1.0, 1.0, 1.0),
    gamma=(2.20, 2.20, 2.21),
    bow=0.01,
    falloff=0.02,
    tilt=(0.015, 0.01),
    colour_tilt=(0.010, 0.0, -0.012),
    corner_glow=0.0,
    glare=0.00015,
    rise_tau_s=0.002,
    fall_tau_s=0.002,
    limiting=2.44,
    limiting_tau_s=0.025,
    cold_loss=(0.010, 0.012, 0.020),
    warm_up_tau_s=900.0,
    dimmest=0.08,
)

MISCALIBRATED = replace(
    OFFICE_LCD,
    name="miscalibrated-lcd",
    label="Dotterel 24 (invented), office LCD badly set: bluish white, gammas apart",
    white_xy=(0.2860, 0.3010),
    white_cd_m2=240.0,
    black_cd_m2=240.0 / 800.0,
    gamma=(2.35, 2.05, 1.90),
    bow=0.05,
)

MODELS = {model.name: model for model in (OFFICE_LCD, WIDE_GAMUT_LCD, EMISSIVE, MISCALIBRATED)}


class Display:
    """One display, ready to be looked at. Places are fractions of width and height, origin top left."""

    def __init__(self, model: DisplayModel) -> None:
        self.model = model
        spectra = [f.through(column(c)) for f, c in zip(model.filters, model.light, strict=True)]
        primaries = [tristimulus(spectrum, observer()) for spectrum in spectra]
        scale = mix(primaries, xyz_of(model.white_xy, model.white_cd_m2 - model.black_cd_m2))
        self._spectra = tuple(tuple(s * v for v in spectrum) for s, spectrum in zip(scale, spectra, strict=True))
        luminances = [s * primary[1] for s, primary in zip(scale, primaries, strict=True)]
        tinted = sum(t * y for t, y in zip(model.black_tint, luminances, strict=True))
        red, green, blue = (model.black_cd_m2 / tinted * tint for tint in model.black_tint)
        self._black: Triple = (red, green, blue)
        total = sum(luminances)
        self.weights: Triple = (luminances[0] / total, luminances[1] / total, luminances[2] / total)
        self._curves: dict[int, tuple[Spectrum, Spectrum, Spectrum]] = {}

    def seen_through(self, filters: Observer) -> tuple[Triple, Triple, Triple, Triple]:
        """XYZ in cd/m2 of one unit of red, green, blue and leak, for an observer or a meter's filters."""
        red, green, blue = (tristimulus(spectrum, filters) for spectrum in self._spectra)
        leak = tuple(
            self._black[0] * r + self._black[1] * g + self._black[2] * b
            for r, g, b in zip(red, green, blue, strict=True)
        )
        return red, green, blue, (leak[0], leak[1], leak[2])

    def linear(self, code: tuple[int, int, int], bits: int) -> Triple:
        """Light of each channel, 0 to 1, for a code of ``bits`` bits (the EOTF, channel by channel)."""
        if bits not in self._curves:
            top = (1 << bits) - 1
            red, green, blue = (
                tuple(self._eotf(value / top, gamma) for value in range(top + 1)) for gamma in self.model.gamma
            )
            self._curves[bits] = (red, green, blue)
        curves = self._curves[bits]
        return curves[0][code[0]], curves[1][code[1]], curves[2][code[2]]

    def _eotf(self, value: float, gamma: float) -> float:
        bent = value + self.model.bow * math.sin(2.0 * math.pi * value) / (2.0 * math.pi)
        return bent**gamma if bent > 0.0 else 0.0

    def limit(self, mean: Triple) -> float:
        """Gain that brightness limiting leaves for a screen whose mean linear light is ``mean``."""
        level = sum(weight * channel for weight, channel in zip(self.weights, mean, strict=True))
        spared = 0.0 if self.model.hdr is None else self.model.hdr.limit_from
        return 1.0 / (1.0 + self.model.limiting * max(0.0, level - spared))

    def falloff(self, place: tuple[float, float]) -> Amounts:
        """Gain of red, green, blue and leak at ``place``; 1 at the centre."""
        model = self.model
        right, down = place[0] - 0.5, place[1] - 0.5
        distance = (right * right + down * down) / 0.5  # 1 at the corners
        gain = 1.0 - model.falloff * distance + model.tilt[0] * right + model.tilt[1] * down
        red, green, blue = (gain * (1.0 + tilt * right) for tilt in model.colour_tilt)
        return red, green, blue, gain * (1.0 + model.corner_glow * distance * distance)

    def warm_up(self, on_for_s: float) -> Amounts:
        """Gain of red, green, blue and leak after ``on_for_s`` seconds from a cold start."""
        left = math.exp(-on_for_s / self.model.warm_up_tau_s)
        red, green, blue = (1.0 - loss * left for loss in self.model.cold_loss)
        return red, green, blue, green


def display(name: str) -> Display:
    """The display of that name. Raises ``KeyError`` for another name; see `model_of`."""
    return Display(model_of(name))


def model_of(name: str) -> DisplayModel:
    """The figures of a display: of `MODELS`, `sim.displays_hdr` or `sim.displays_story`. Raises ``KeyError``."""
    from sim.displays_hdr import HDR_MODELS
    from sim.displays_story import STORY_MODELS

    return {**MODELS, **HDR_MODELS, **STORY_MODELS}[name]


def xyz_of(xy: tuple[float, float], luminance: float) -> Triple:
    """XYZ of a chromaticity and a luminance."""
    x, y = xy
    return (x / y * luminance, luminance, (1.0 - x - y) / y * luminance)


def mix(primaries: list[Triple], white: Triple) -> Triple:
    """How much of each primary makes ``white``: Cramer's rule on three equations."""
    red, green, blue = primaries
    whole = _determinant(red, green, blue)
    return (
        _determinant(white, green, blue) / whole,
        _determinant(red, white, blue) / whole,
        _determinant(red, green, white) / whole,
    )


def _determinant(a: Triple, b: Triple, c: Triple) -> float:
    return a[0] * (b[1] * c[2] - b[2] * c[1]) - b[0] * (a[1] * c[2] - a[2] * c[1]) + c[0] * (a[1] * b[2] - a[2] * b[1])
