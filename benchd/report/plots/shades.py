"""Shades from dark blue to light yellow, of which equal steps look equal, also to colour-blind readers.

The colour map "cividis" of Nuñez, Anderton and Renslow, PLOS ONE 13(7), e0199239 (2018), at 17 places; between them a
straight line is at most 11 of 255 levels away from it.
"""

from __future__ import annotations

from dataclasses import dataclass

_LEVELS = (
    (0, 34, 78),
    (0, 46, 106),
    (26, 56, 111),
    (50, 67, 109),
    (67, 78, 108),
    (83, 90, 109),
    (97, 101, 111),
    (111, 112, 115),
    (125, 124, 120),
    (140, 136, 120),
    (155, 148, 118),
    (171, 160, 114),
    (188, 174, 108),
    (205, 187, 99),
    (222, 201, 88),
    (240, 216, 70),
    (254, 232, 56),
)
"""Red, green and blue, 0 to 255, from 0 to 1."""


@dataclass(frozen=True, slots=True)
class Shade:
    """``light``: its luminance, of that of white, for the choice of what is legible on it."""

    colour: str
    light: float


def shade(share: float) -> Shade:
    """0 is the darkest, 1 the lightest; what lies beyond is that of the end."""
    at = min(max(share, 0.0), 1.0) * (len(_LEVELS) - 1)
    below = min(int(at), len(_LEVELS) - 2)
    pair = zip(_LEVELS[below], _LEVELS[below + 1], strict=True)
    red, green, blue = (round(low + (high - low) * (at - below)) for low, high in pair)
    light = sum(part * (level / 255.0) ** 2.2 for part, level in zip(_PARTS, (red, green, blue), strict=True))
    return Shade(f"#{red:02x}{green:02x}{blue:02x}", light)


_PARTS = (0.2126, 0.7152, 0.0722)
"""Of red, green and blue in the luminance of white (ITU-R BT.709)."""
