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


def is_share(path: str) -> bool:
    """Is this a coverage of a space?"""
    return "/coverage/" in path and path.rpartition("/")[2] in ("coverage_xy", "coverage_uv")


def drawn_spaces(true: Mapping[str, float | None], dice: Random) -> dict[str, str]:
    """Texts of the spaces, by the names a plan's files have, about the primaries of the ``true`` figures."""
    own = {name: tuple(true[f"gamut/colours/{name}/{axis}"] or 0.0 for axis in "xy") for name in ("red", "green", "blue")}
    middle = [sum(corner[axis] for corner in own.values()) / 3.0 for axis in (0, 1)]
    texts = {}
    for name, apart in APART.items():
        corners = []
        for colour, (x, y) in own.items():
            out = math.atan2(y - middle[1], x - middle[0])
            away, aside = (apart, 0.0) if name == "short" else (dice.gauss(0.0, apart), dice.gauss(0.0, apart / 2.0))
            at = (x + away * math.cos(out) - aside * math.sin(out), y + away * math.sin(out) + aside * math.cos(out))
            corners.append(f"{colour}: [{max(at[0], 0.001):.6f}, {max(at[1], 0.001):.6f}]")
        texts[f"spaces/{name}"] = (
            f"space: {name}\nlabel: {name} (invented)\nsource: drawn\nwhite: [0.3127, 0.3290]\n"
            f"primaries: {{{', '.join(corners)}}}\ncurve: {{kind: srgb}}\n"
        )
    return texts
