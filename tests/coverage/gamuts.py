"""Spaces drawn about a display's own triangle, so that its coverage of them is near 100 %, just below, and far away."""

from __future__ import annotations

import math
from collections.abc import Mapping
from random import Random

PLAN = """\
plan: coverage-gamut
target: {target}
warm_up: none
settle_s: 1
readings: {readings}
dark_readings: {dark_readings}
look_again: false
blocks:
  - gamut: {{spaces: [short, edge, near, far]}}
"""
APART = {"short": 0.002, "edge": 0.002, "near": 0.01, "far": 0.05}
"""How far in x, y the corners of a space are drawn about the display's; of "short" the display is that much short."""
AT_FULL = " (true 100 %)"
"""Stands behind the path of a coverage whose truth is 100 %: its interval can only miss it by ending below."""

BT709 = {
    f"gamut/colours/{name}/{axis}": value
    for name, corner in {"red": (0.64, 0.33), "green": (0.30, 0.60), "blue": (0.15, 0.06)}.items()
    for axis, value in zip("xy", corner, strict=True)
}
"""Primaries of ITU-R BT.709, in the place of a display's own until they are known."""


def is_share(path: str) -> bool:
    """Is this a coverage of a space?"""
    return "/coverage/" in path and path.rpartition("/")[2] in ("coverage_xy", "coverage_uv")


def is_one_sided(path: str) -> bool:
    """May its interval miss on one side only? At 100 % every interval ends, and close to the edge it reaches as far."""
    return path.endswith(AT_FULL) or (is_share(path) and path.split("/coverage/")[1].startswith(("short/", "edge/")))


def drawn_spaces(true: Mapping[str, float | None], dice: Random) -> dict[str, str]:
    """Texts of the spaces, by the names a plan's files have, about the primaries of the ``true`` figures."""
    own = {
        name: tuple(true[f"gamut/colours/{name}/{axis}"] or 0.0 for axis in "xy") for name in ("red", "green", "blue")
    }
    middle = [sum(corner[axis] for corner in own.values()) / 3.0 for axis in (0, 1)]
    texts = {}
    for name, apart in APART.items():
        corners = []
        for x, y in own.values():
            out = math.atan2(y - middle[1], x - middle[0])
            away, aside = (apart, 0.0) if name == "short" else (dice.gauss(0.0, apart), dice.gauss(0.0, apart / 2.0))
            moved_x = max(x + away * math.cos(out) - aside * math.sin(out), 0.001)
            moved_y = max(y + away * math.sin(out) + aside * math.cos(out), 0.001)
            within = min(1.0, 0.999 / (moved_x + moved_y))  # X, Y and Z of a light can't be negative
            corners.append((within * moved_x, within * moved_y))
        written = ", ".join(f"{colour}: [{x:.6f}, {y:.6f}]" for colour, (x, y) in zip(own, corners, strict=True))
        # Its white is of no account here: in the middle it is within any triangle.
        texts[f"spaces/{name}"] = (
            f"space: {name}\nlabel: {name} (invented)\nsource: drawn\n"
            f"white: [{sum(x for x, _ in corners) / 3.0:.6f}, {sum(y for _, y in corners) / 3.0:.6f}]\n"
            f"primaries: {{{written}}}\ncurve: {{kind: srgb}}\n"
        )
    return texts
