"""The picture settings of a simulated display, and what each does to its light. Invented laws; pure.

brightness  0 to 100: the backlight (of an emissive panel: all its light), from the model's `dimmest` to all, monotone
contrast    0 to 100: gain of the signal in linear light; 75 leaves it as it is, above it the brightest codes clip
preset      standard: the display's own white, gamut and curve; warm and cool: the white of daylight of 5000 and 9300 K;
            srgb: gamut, white and curve of IEC 61966-2-1, as far as the display's own gamut reaches; user: the gains
gains       0 to 100 for red, green and blue: in linear light, in the preset `user` only
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from sim.displays import Display, mix, xyz_of
from sim.spectra import Triple, observer

PRESETS = {"srgb": 1, "warm": 4, "standard": 5, "cool": 8, "user": 11}
"""Names of the presets, with their values of VCP code 14h (VESA MCCS 2.2, from memory)."""

CONTRAST_AS_IS = 75
WHITES_K = {"warm": 5000.0, "cool": 9300.0}
D65 = (0.3127, 0.3290)
SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))


@dataclass(frozen=True, slots=True)
class Settings:
    """As the display comes out of its box."""

    brightness: int = 100
    contrast: int = CONTRAST_AS_IS
    preset: str = "standard"
    red_gain: int = 100
    green_gain: int = 100
    blue_gain: int = 100

    def __post_init__(self) -> None:
        if self.preset not in PRESETS:
            raise ValueError(f"there is no preset {self.preset!r}; there are {', '.join(PRESETS)}")
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name != "preset" and not (type(value) is int and 0 <= value <= 100):
                raise ValueError(f"{field.name} {value}: whole numbers, 0 to 100")

    def but(self, text: str) -> Settings:
        """These settings with one more, such as ``brightness=30`` or ``preset=warm``. Raises ``ValueError``."""
        name, _, value = text.partition("=")
        if name not in (field.name for field in fields(self)):
            raise ValueError(f"setting {text!r}: write NAME=VALUE, NAME being one of {', '.join(by_name(self))}")
        if name == "preset":
            return replace(self, preset=value)
        try:
            return replace(self, **{name: int(value)})  # type: ignore[arg-type]
        except ValueError:
            raise ValueError(f"setting {text!r}: {name} is a whole number, 0 to 100") from None


FROM_THE_BOX = Settings()


def by_name(settings: Settings) -> dict[str, int | str]:
    """The settings by name."""
    return {field.name: getattr(settings, field.name) for field in fields(settings)}


class Tuned:
    """A display with its settings: the light of every code."""

    def __init__(self, display: Display, settings: Settings) -> None:
        self._display, self.settings = display, settings
        dimmest = display.model.dimmest
        self.backlight = dimmest + (1.0 - dimmest) * (settings.brightness / 100.0) ** 1.1
        self._as_is = settings.preset == "standard" and settings.contrast == CONTRAST_AS_IS
        self._matrix = _srgb_matrix(display) if settings.preset == "srgb" else None
        self._gains = _gains(display, settings)
        above = settings.contrast - CONTRAST_AS_IS
        self._contrast = 1.0 + 0.006 * above if above >= 0 else 0.35 + 0.65 * settings.contrast / CONTRAST_AS_IS

    @property
    def leak(self) -> float:
        """Factor on the light that leaks through black: a backlight dims it too."""
        return self.backlight if self._display.model.panel == "lcd" else 1.0

    def linear(self, code: tuple[int, int, int], bits: int) -> Triple:
        """Light of each channel, 0 to 1, before the backlight."""
        if self._as_is:
            return self._display.linear(code, bits)
        if self._matrix is not None:
            light = _through(self._matrix, _srgb_curve(code, (1 << bits) - 1))
        else:
            light = self._display.linear(code, bits)
        red, green, blue = (
            min(1.0, max(0.0, self._contrast * gain * value)) for gain, value in zip(self._gains, light, strict=True)
        )
        return red, green, blue


def daylight_xy(kelvin: float) -> tuple[float, float]:
    """Chromaticity of CIE daylight (CIE 15:2018, method of calculating D illuminants), 4000 to 25000 K."""
    t = 1000.0 / kelvin
    if kelvin <= 7000.0:
        x = -4.6070 * t**3 + 2.9678 * t**2 + 0.09911 * t + 0.244063
    else:
        x = -2.0064 * t**3 + 1.9018 * t**2 + 0.24748 * t + 0.237040
    return x, -3.0 * x * x + 2.870 * x - 0.275


def _primaries(display: Display) -> list[Triple]:
    return list(display.seen_through(observer())[:3])


def _gains(display: Display, settings: Settings) -> Triple:
    if settings.preset == "user":
        return settings.red_gain / 100.0, settings.green_gain / 100.0, settings.blue_gain / 100.0
    if settings.preset not in WHITES_K:
        return 1.0, 1.0, 1.0
    return _to_most(mix(_primaries(display), xyz_of(daylight_xy(WHITES_K[settings.preset]), 1.0)))


def _srgb_matrix(display: Display) -> tuple[Triple, Triple, Triple]:
    """From linear sRGB to the display's own channels, white as bright as the display can."""
    white = xyz_of(D65, 1.0)
    wanted = [xyz_of(xy, 1.0) for xy in SRGB_PRIMARIES]
    amounts = mix(wanted, white)
    own = _primaries(display)
    columns = []
    for amount, primary in zip(amounts, wanted, strict=True):
        columns.append(mix(own, (amount * primary[0], amount * primary[1], amount * primary[2])))
    most = max(sum(column[channel] for column in columns) for channel in range(3))
    rows = [tuple(column[channel] / most for column in columns) for channel in range(3)]
    return (_triple(rows[0]), _triple(rows[1]), _triple(rows[2]))


def _srgb_curve(code: tuple[int, int, int], top: int) -> Triple:
    """The electro-optical transfer function of IEC 61966-2-1."""
    return _triple(tuple(_srgb_light(value / top) for value in code))


def _srgb_light(signal: float) -> float:
    linear: float = signal / 12.92 if signal <= 0.04045 else ((signal + 0.055) / 1.055) ** 2.4
    return linear


def _through(matrix: tuple[Triple, Triple, Triple], light: Triple) -> Triple:
    return _triple(tuple(sum(a * b for a, b in zip(row, light, strict=True)) for row in matrix))


def _to_most(amounts: Triple) -> Triple:
    most = max(amounts)
    return amounts[0] / most, amounts[1] / most, amounts[2] / most


def _triple(values: tuple[float, ...]) -> Triple:
    return values[0], values[1], values[2]
