"""The truth of a simulated display: what a perfect meter would read, settled, warm, without noise.

python -m sim.truth --display office-lcd [--set brightness=50] [--json]
"""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any

from benchd.patch.model import Patch, code_for, field, grey
from sim.displays import MODELS, display
from sim.picture import Painted, Place
from sim.scene import CENTRE, Scene
from sim.sensor import SensorModel
from sim.settings import by_name
from sim.spectra import Triple

WIDTH, HEIGHT = 1920, 1080
GREY_STEPS = 21
GRID = tuple(0.1 + 0.2 * index for index in range(5))  # 10 % to 90 %, five places


def painted(patch: Patch, width: int = WIDTH, height: int = HEIGHT) -> Painted:
    """A patch as the rectangles that draw it."""
    rects = tuple((r.x, r.y, r.width, r.height, r.code) for r in patch.rectangles(width, height))
    return Painted(width, height, patch.bits, rects)


def truth_of(scene: Scene, patch: Patch, place: Place = CENTRE) -> Triple:
    """XYZ in cd/m2 of a patch at a place."""
    return scene.truth(painted(patch), place)


def summary(scene: Scene) -> dict[str, Any]:
    """All truths that a standard plan measures; luminances in cd/m2, chromaticities CIE 1931 x, y."""
    white, black = truth_of(scene, field(grey(255))), truth_of(scene, field(grey(0)))
    return {
        "simulated": True,
        "display": scene.display.model.name,
        "about": scene.display.model.label,
        "settings": by_name(scene.settings),
        "white": _described(white),
        "black": _described(black),
        "primaries": {
            name: _described(truth_of(scene, field(code)))
            for name, code in (("red", (255, 0, 0)), ("green", (0, 255, 0)), ("blue", (0, 0, 255)))
        },
        "contrast": {"sequential": white[1] / black[1], **_checkerboard(scene)},
        "grayscale": [
            {"code": code, **_described(truth_of(scene, field(grey(code))))}
            for code in (code_for(100.0 * step / (GREY_STEPS - 1), 8) for step in range(GREY_STEPS))
        ],
        "uniformity": {
            level: [[_described(truth_of(scene, field(grey(code)), (x, y))) for x in GRID] for y in GRID]
            for level, code in (("white", 255), ("grey50", code_for(50.0, 8)), ("black", 0))
        },
        "windows": [
            {
                "area_percent": percent,
                **_described(truth_of(scene, Patch("window", grey(255), area_percent=percent))),
            }
            for percent in (1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0)
        ],
    }


def _described(xyz: Triple) -> dict[str, Any]:
    total = sum(xyz)
    return {"xyz": list(xyz), "luminance_cd_m2": xyz[1], "x": xyz[0] / total, "y": xyz[1] / total}


def _checkerboard(scene: Scene) -> dict[str, float]:
    """Mean of the white cells over mean of the black cells, 4 x 4, either polarity."""
    found = {}
    for name, inverse in (("checkerboard", False), ("checkerboard_inverse", True)):
        board = painted(Patch("checkerboard", grey(255), inverse=inverse))
        white, black = 0.0, 0.0
        for row in range(4):
            for column in range(4):
                place = ((column + 0.5) / 4.0, (row + 0.5) / 4.0)
                luminance = scene.truth(board, place)[1]
                if board.code_at(place) == (255, 255, 255):
                    white += luminance
                else:
                    black += luminance
        found[name] = white / black
    return found


def as_text(truth: dict[str, Any]) -> str:
    """The summary for reading."""
    white, black, contrast = truth["white"], truth["black"], truth["contrast"]
    lines = [
        f"SIMULATED  {truth['about']}: the truth, settled, warm, without noise",
        "set to      " + ", ".join(f"{name} {value}" for name, value in truth["settings"].items()),
        f"white       {white['luminance_cd_m2']:.4g} cd/m2   x {white['x']:.4f} y {white['y']:.4f}",
        f"black       {black['luminance_cd_m2']:.4g} cd/m2   x {black['x']:.4f} y {black['y']:.4f}",
        f"contrast    {contrast['sequential']:.4g} : 1 sequential",
        f"            {contrast['checkerboard']:.4g} : 1 checkerboard, "
        f"{contrast['checkerboard_inverse']:.4g} : 1 inverse",
    ]
    for name, light in truth["primaries"].items():
        lines.append(f"{name:<12}{light['luminance_cd_m2']:.4g} cd/m2   x {light['x']:.4f} y {light['y']:.4f}")
    lines.append("windows of white on black, area in % and cd/m2:")
    lines.append("  " + "  ".join(f"{w['area_percent']:g} %: {w['luminance_cd_m2']:.4g}" for w in truth["windows"]))
    lines.append("grayscale, full screen (code, cd/m2, x, y):")
    for step in truth["grayscale"]:
        lines.append(f"  {step['code']:>3} {step['luminance_cd_m2']:>10.4g}  {step['x']:.4f} {step['y']:.4f}")
    lines.append("uniformity of white, 10 to 90 % of width and height (cd/m2):")
    for row in truth["uniformity"]["white"]:
        lines.append("  " + " ".join(f"{cell['luminance_cd_m2']:7.1f}" for cell in row))
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Print the truth of one display."""
    parser = argparse.ArgumentParser(prog="python -m sim.truth", description="Prints what a simulated display shows.")
    parser.add_argument("--display", choices=sorted(MODELS), required=True, help="which display")
    parser.add_argument("--set", action="append", default=[], help="a setting of the display, such as brightness=50")
    parser.add_argument("--json", action="store_true", help="as one JSON object")
    wanted = parser.parse_args(arguments)
    scene = Scene(display(wanted.display), SensorModel(), noise="none")
    try:
        for text in wanted.set:
            scene.set(scene.settings.but(text))
    except ValueError as error:
        parser.error(str(error))
    truth = summary(scene)
    sys.stdout.write((json.dumps(truth) if wanted.json else as_text(truth)) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
