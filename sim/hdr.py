"""How a simulated HDR display makes light of PQ or HLG codes: roll-off, dimming zones, limiting, loss by heat. Pure.

The laws are invented, the scales are the standards' (SMPTE ST 2084; ITU-R BT.2100 Table 5), written here on their own,
so that nothing is checked against itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from sim.displays import Display, mix, xyz_of
from sim.picture import Picture, Place
from sim.settings import FROM_THE_BOX, Settings, Tuned
from sim.spectra import Triple, observer

BT2020_XY = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
D65 = (0.3127, 0.3290)
WEIGHTS = (0.2627, 0.6780, 0.0593)


@dataclass(frozen=True, slots=True)
class Hdr:
    """The figures of an invented HDR mode.

    ``knee``       fraction of the display's white above which it rolls off smoothly towards that white; 1: hard clip
    ``error``      what it makes of a luminance: L -> L (1 + error), everywhere below the knee
    ``zones``      columns and rows of dimming zones, or None
    ``spread``     reach of a lit zone, fraction of the screen's height
    ``least``      light of a zone that is off, fraction of all
    ``limit_from`` mean level up to which brightness is not limited
    ``heat_loss``  fraction of the light that a full-screen white loses in time, with ``heat_tau_s``
    """

    transfer: Literal["pq", "hlg"] = "pq"
    range: Literal["full", "narrow"] = "full"
    knee: float = 0.75
    error: float = 0.0
    zones: tuple[int, int] | None = None
    spread: float = 0.06
    least: float = 0.02
    limit_from: float = 0.0
    heat_loss: float = 0.0
    heat_tau_s: float = 40.0


def pq(signal: float) -> float:
    """cd/m2 of a PQ signal (ST 2084, equation 4.1)."""
    m1, m2 = 0.1593017578125, 78.84375
    c1, c2, c3 = 0.8359375, 18.8515625, 18.6875
    root = signal ** (1.0 / m2)
    top = root - c1
    return 10000.0 * (top / (c2 - c3 * root)) ** (1.0 / m1) if top > 0.0 else 0.0


def hlg_scene(signal: float) -> float:
    """Scene light, 0 to 1, of an HLG signal (BT.2100, inverse OETF)."""
    a = 0.17883277
    b = 0.28466892
    c = 0.55991073
    return signal**2 / 3.0 if signal <= 0.5 else (math.exp((signal - c) / a) + b) / 12.0


class HdrTuned(Tuned):
    """An HDR display with its settings: the light of every code of its signal."""

    def __init__(self, display: Display, settings: Settings, hdr: Hdr) -> None:
        super().__init__(display, FROM_THE_BOX)
        self.settings = settings
        self.backlight = 1.0  # a display in its HDR mode has no brightness to choose
        self._hdr, self._white = hdr, display.model.white_cd_m2 - display.model.black_cd_m2
        self._to_own = _to_own(display)
        self._signals: dict[int, list[float]] = {}

    def linear(self, code: tuple[int, int, int], bits: int) -> Triple:
        """Light of each channel, 0 to 1 of the display's white."""
        red, green, blue = (self._signal(value, bits) for value in code)
        wanted = self._wanted(red, green, blue)
        out = [
            sum(m * v for m, v in zip(row, wanted, strict=True)) * (1.0 + self._hdr.error) / self._white
            for row in self._to_own
        ]
        return (self._rolled(out[0]), self._rolled(out[1]), self._rolled(out[2]))

    def _wanted(self, red: float, green: float, blue: float) -> Triple:
        """Nominal linear light of the signal in BT.2020, cd/m2."""
        if self._hdr.transfer == "pq":
            return pq(red), pq(green), pq(blue)
        scene = hlg_scene(red), hlg_scene(green), hlg_scene(blue)
        peak = self._white
        gamma = 1.2 + 0.42 * math.log10(peak / 1000.0)
        mean = sum(weight * value for weight, value in zip(WEIGHTS, scene, strict=True))
        gain = peak * mean ** (gamma - 1.0) if mean > 0.0 else 0.0
        return gain * scene[0], gain * scene[1], gain * scene[2]

    def _rolled(self, value: float) -> float:
        """Straight up to the knee, then an exponential approach to 1 with the same slope at the knee."""
        knee = self._hdr.knee
        if value <= knee:
            return max(value, 0.0)
        room = 1.0 - knee
        return 1.0 - room * math.exp(-(value - knee) / room) if room > 0.0 else 1.0

    def _signal(self, code: int, bits: int) -> float:
        if bits not in self._signals:
            low, span = 0.0, float((1 << bits) - 1)
            if self._hdr.range == "narrow":
                low, span = 16.0 * 2 ** (bits - 8), 219.0 * 2 ** (bits - 8)
            self._signals[bits] = [min(1.0, max(0.0, (value - low) / span)) for value in range(1 << bits)]
        return self._signals[bits][code]


class Zones:
    """The backlight behind a picture: zones lit by the brightest code in them, each reaching over its borders."""

    SAMPLES = 3  # a side of each zone

    def __init__(self, hdr: Hdr, aspect: float = 16.0 / 9.0) -> None:
        assert hdr.zones is not None
        self._hdr, self._aspect = hdr, aspect
        self._columns, self._rows = hdr.zones
        self._lit: dict[str, list[tuple[float, float, float]]] = {}
        self._here: dict[tuple[str, Place], float] = {}

    def at(self, picture: Picture, tuned: Tuned, place: Place) -> float:
        """Light of the backlight at a place, fraction of all."""
        key = (picture.digest, place)
        if key not in self._here:
            if len(self._here) > 256:
                self._here.clear()
            self._here[key] = self._at(picture, tuned, place)
        return self._here[key]

    def _at(self, picture: Picture, tuned: Tuned, place: Place) -> float:
        spread, own = self._hdr.spread, 0.0
        for x, y, level in self._levels(picture, tuned):
            across, down = (place[0] - x) * self._aspect, place[1] - y
            half_x, half_y = self._aspect / (2.0 * self._columns), 1.0 / (2.0 * self._rows)
            # From the zone's border on, not from its middle.
            outside = math.hypot(max(0.0, abs(across) - half_x), max(0.0, abs(down) - half_y))
            own = max(own, level * math.exp(-outside / spread))
        return self._hdr.least + (1.0 - self._hdr.least) * own

    def _levels(self, picture: Picture, tuned: Tuned) -> list[tuple[float, float, float]]:
        """Middle and level of every zone that is lit."""
        if picture.digest not in self._lit:
            if len(self._lit) > 64:
                self._lit.clear()
            found = []
            brightest: dict[tuple[int, int, int], float] = {}  # a picture has few codes
            for row in range(self._rows):
                for column in range(self._columns):
                    level = 0.0
                    for i in range(self.SAMPLES):
                        for j in range(self.SAMPLES):
                            x = (column + (i + 0.5) / self.SAMPLES) / self._columns
                            y = (row + (j + 0.5) / self.SAMPLES) / self._rows
                            code = picture.code_at((x, y))
                            if code not in brightest:
                                brightest[code] = max(tuned.linear(code, picture.bits))
                            level = max(level, brightest[code])
                    if level > 1e-6:
                        middle = ((column + 0.5) / self._columns, (row + 0.5) / self._rows)
                        found.append((*middle, min(1.0, level**0.5)))
            self._lit[picture.digest] = found
        return self._lit[picture.digest]


def _to_own(display: Display) -> tuple[Triple, Triple, Triple]:
    """From linear BT.2020 to amounts of the display's own primaries, D65 of 1 being the display's white of 1."""
    amounts = mix([xyz_of(xy, 1.0) for xy in BT2020_XY], xyz_of(D65, 1.0))
    own = list(display.seen_through(observer())[:3])
    unit = display.model.white_cd_m2 - display.model.black_cd_m2
    columns = []
    for amount, xy in zip(amounts, BT2020_XY, strict=True):
        x, y, z = xyz_of(xy, amount * unit)
        columns.append(mix(own, (x, y, z)))
    rows = [(columns[0][channel], columns[1][channel], columns[2][channel]) for channel in range(3)]
    return (rows[0], rows[1], rows[2])
