"""The room around the simulated display: a lamp, a meter that is knocked aside, a display that falls asleep. Pure.

at:600:lamp:5        from 600 s on a lamp adds 5 cd/m2 to what the meter sees (no value: 5; 0 switches it off)
at:600:aside:12      the meter lies next to the screen and sees 12 cd/m2 of the room, whatever is shown
at:600:asleep        the display's output is off
at:900:put_back      lamp off, meter back, display awake
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sim.displays import xyz_of
from sim.spectra import Triple

LAMP_XY = (0.4476, 0.4074)  # CIE standard illuminant A (CIE 15:2018)
ROOM_MEANING = {
    "lamp": "a lamp adds the given cd/m2 (default 5) to what the meter sees, from now on",
    "aside": "the meter lies next to the screen and sees the given cd/m2 of the room (default 12), from now on",
    "asleep": "the display shows nothing, from now on",
    "put_back": "lamp off, meter back in its place, display awake",
}
"""Every kind of trouble of the room with what it does."""

DEFAULT_CD_M2 = {"lamp": 5.0, "aside": 12.0}


@dataclass(frozen=True, slots=True)
class Room:
    """What stands between the screen's light and the meter."""

    lamp_cd_m2: float = 0.0
    aside_cd_m2: float | None = None
    asleep: bool = False

    def after(self, what: str, value: str) -> Room:
        """The room once ``what`` has happened. Raises ``ValueError`` for a value that is no luminance."""
        amount = float(value) if value else DEFAULT_CD_M2.get(what, 0.0)
        if not 0.0 <= amount < 1e6:
            raise ValueError(f"{value} is no luminance")
        if what == "lamp":
            return replace(self, lamp_cd_m2=amount)
        if what == "aside":
            return replace(self, aside_cd_m2=amount)
        return replace(self, asleep=True) if what == "asleep" else Room()

    def seen(self, screen: Triple) -> Triple:
        """XYZ in cd/m2 at the meter when the screen alone gives ``screen``."""
        if self.aside_cd_m2 is not None:
            return xyz_of(LAMP_XY, self.aside_cd_m2 + self.lamp_cd_m2)
        x, y, z = (0.0, 0.0, 0.0) if self.asleep else screen
        if not self.lamp_cd_m2:
            return x, y, z
        lamp = xyz_of(LAMP_XY, self.lamp_cd_m2)
        return x + lamp[0], y + lamp[1], z + lamp[2]
