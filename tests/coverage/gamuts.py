"""Spaces drawn about a display's own triangle, so that its coverage of them is near 100 %, just below, and far away."""

from __future__ import annotations

import math
from collections.abc import Mapping
from random import Random

Corners = Mapping[str, tuple[float, float]]
"""x and y of red, green and blue."""

APART = {"short": 0.002, "edge": 0.002, "near": 0.01, "far": 0.05}
"""How far in x, y the corners of a space are drawn about the display's; of "short" the display is that much short."""
AT_FULL = " (true 100 %)"
"""Stands behind the path of a coverage whose truth is 100 %: its interval can only miss it by ending below."""

PLACEHOLDERS = {
    f"spaces/{name}": (
        f"space: {name}\nlabel: {name} (invented)\nsource: drawn\nwhite: [0.33, 0.33]\n"
        "primaries: {red: [0.64, 0.33], green: [0.30, 0.60], blue: [0.15, 0.06]}\ncurve: {kind: srgb}\n"
    )
    for name in APART
}
"""Files of the spaces for a plan that is read once; their white is of no account."""


def is_share(path: str) -> bool:
    """Is this a coverage of a space?"""
    return "/coverage/" in path and path.rpartition("/")[2] in ("coverage_xy", "coverage_uv")


def drawn_spaces(own: Corners, dice: Random) -> dict[str, dict[str, tuple[float, float]]]:
    """Corners of the spaces by name, about the primaries of the display."""
    middle = [sum(corner[axis] for corner in own.values()) / 3.0 for axis in (0, 1)]
    spaces = {}
    for name, apart in APART.items():
        corners = {}
        for colour, (x, y) in own.items():
            out = math.atan2(y - middle[1], x - middle[0])
            away, aside = (apart, 0.0) if name == "short" else (dice.gauss(0.0, apart), dice.gauss(0.0, apart / 2.0))
            moved_x = max(x + away * math.cos(out) - aside * math.sin(out), 0.001)
            moved_y = max(y + away * math.sin(out) + aside * math.cos(out), 0.001)
            within = min(1.0, 0.999 / (moved_x + moved_y))  # X, Y and Z of a light can't be negative
            corners[colour] = (within * moved_x, within * moved_y)
        spaces[name] = corners
    return spaces
