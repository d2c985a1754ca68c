"""The gamut of a screen: full-drive colours against colour spaces, whether light adds up, hues, and the volume."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour.target import Target, target_from
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.patch_values import PatchValues, patch_of, patches_of
from benchd.analysis.log.places import few, not_measured, patch_words
from benchd.analysis.log.step_light import MeterRange
from benchd.analysis.uncertainty.quantity import Quantity, absent, merged, propagated
from benchd.analysis.uncertainty.sources import EXACT
from benchd.measurements.gamut import area as coverage
from benchd.measurements.gamut.area import Covered
from benchd.measurements.gamut.results import Additivity, Gamut, GamutColour, HueShift, SpaceCoverage
from benchd.measurements.gamut.volume import volumes
from benchd.profile.colour_codes import uv_prime

METHOD = (
    "full-drive colours at the centre, black not subtracted; triangle of red, green and blue; areas by the shoelace "
    "formula, shared areas after Sutherland and Hodgman, in CIE 1931 xy and in CIE 1976 u'v'; additivity and gamut "
    "volume after IDMS (from memory)"
)
PRIMARIES = ("red", "green", "blue")
MIXED: dict[str, tuple[str, ...]] = {
    "white": PRIMARIES,
    "cyan": ("green", "blue"),
    "magenta": ("red", "blue"),
    "yellow": ("red", "green"),
}
"""Mixed colours and the primaries that they are made of."""
HUES = ("red", "yellow", "green", "cyan", "blue", "magenta")
COLOURS = ("red", "green", "blue", "cyan", "magenta", "yellow", "white", "black")


def gamut(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None) -> Gamut:
    """One gamut block. Colours that were not measured are named in ``missing``; what needs them is absent."""
    names = [str(name) for name in block["names"]]
    patches = patches_of(log_data, block, names, meter)
    spaces = [target_from(fields) for fields in block["spaces"]]
    lacking = [name for name in names if name not in patches]
    volume = volumes(patches, names, block, spaces)
    return Gamut(
        block=str(block["name"]),
        method=METHOD,
        patch=patch_words(block),
        colours=tuple(_colour(name, patches[name]) for name in COLOURS if name in patches),
        coverage=tuple(
            _against(space, patches, ratio) for space, ratio in zip(spaces, volume.against_spaces, strict=True)
        ),
        additivity=tuple(_additivity(name, patches) for name in MIXED),
        volume_from=volume.words,
        volumes=volume.volumes,
        target=target.name if target else "",
        hue_shifts=tuple(_hue_shift(name, patches, target) for name in HUES) if target else (),
        missing=not_measured(few(lacking), "colour", "colours"),
    )


def _colour(name: str, one: PatchValues) -> GamutColour:
    shade = one.chromaticity
    return GamutColour(name, one.code, one.luminance, shade.x, shade.y, shade.u_prime, shade.v_prime)


def _against(space: Target, patches: Mapping[str, PatchValues], volume_ratio: Quantity) -> SpaceCoverage:
    corners = [space.red, space.green, space.blue]
    in_uv = [uv_prime(*corner) for corner in corners]
    shades = [patch_of(patches, name).chromaticity for name in PRIMARIES]
    xy = [part for shade in shades for part in (shade.x, shade.y)]
    uv = [part for shade in shades for part in (shade.u_prime, shade.v_prime)]
    return SpaceCoverage(
        space=space.name,
        label=space.about or space.name,
        coverage_xy=_percent(coverage.coverage, xy, corners),
        coverage_uv=_percent(coverage.coverage, uv, in_uv),
        area_ratio_xy=_percent(coverage.area_ratio, xy, corners),
        area_ratio_uv=_percent(coverage.area_ratio, uv, in_uv),
        volume_ratio=volume_ratio,
        corners=(space.red, space.green, space.blue),
        white=space.white,
    )


def _percent(
    function: Callable[[Sequence[coverage.Point], Sequence[coverage.Point]], float],
    parts: Sequence[Quantity],
    corners: Sequence[coverage.Point],
) -> Quantity:
    """A share of a space's triangle, in %; absent where a primary has no chromaticity."""
    if unusable := [part for part in parts if not part.plain]:
        return absent("%", unusable[0].why, merged(part.records for part in parts))

    def share(x1: float, y1: float, x2: float, y2: float, x3: float, y3: float) -> float:
        return 100.0 * function([(x1, y1), (x2, y2), (x3, y3)], corners)

    found = propagated(share, "%", parts)
    if function is not coverage.coverage or found.sources is None:
        return found
    values, nodes = [part.value or 0.0 for part in parts], [part.sources for part in parts]
    known = tuple(node for node in nodes if node is not None)
    if len(known) < len(nodes):  # covered in full as it was read, but its uncertainty is not known
        return found._replace(sources=None)
    device = tuple(zip(values[::2], values[1::2], strict=True))
    return found._replace(sources=Covered(found.sources, device, known, tuple(corners)))


def _additivity(name: str, patches: Mapping[str, PatchValues]) -> Additivity:
    """(sum of the primaries - as many blacks) / (mixed - black): 1 for an additive screen."""
    mixed, black = patch_of(patches, name).luminance, patch_of(patches, "black").luminance
    parts = [patch_of(patches, one).luminance for one in MIXED[name]]
    if black.bound == "below":
        # A black under the meter's floor is too little to matter: both of its ends give the same figure.
        black = black._replace(value=0.0, bound=None, status="ok", why="", s=0.0, sources=EXACT)

    def share(whole: float, dark: float, *single: float) -> float:
        return (math.fsum(single) - len(single) * dark) / (whole - dark)

    if unusable := [one for one in (mixed, *parts, black) if not one.plain]:
        return Additivity(name, absent("1", unusable[0].why))
    return Additivity(name, propagated(share, "1", [mixed, black, *parts]))


def _hue_shift(name: str, patches: Mapping[str, PatchValues], target: Target) -> HueShift:
    one, white = patch_of(patches, name), patch_of(patches, "white")
    matrix = colour.rgb_to_xyz_matrix(target.red, target.green, target.blue, target.white)
    used = [primary in MIXED.get(name, (name,)) for primary in PRIMARIES]
    goal = matrix @ np.array(used, dtype=np.float64)
    goal_white = colour.xyz_from_xy(target.white)
    if unusable := next((each for each in (one, white) if not each.usable), None):
        nothing = absent("deg", unusable.why)
        return HueShift(name, nothing, nothing)
    goal_uv, goal_white_uv = colour.uv_from_xyz(goal).tolist(), colour.uv_from_xy(target.white).tolist()
    at = _angle(goal_uv[0] - goal_white_uv[0], goal_uv[1] - goal_white_uv[1])
    lab_at = _lab_angle(goal, goal_white)

    def uv(u: float, v: float, white_u: float, white_v: float) -> float:
        return _turned(_angle(u - white_u, v - white_v) - at)

    def lab(*parts: float) -> float:
        (x, y, luminance), (white_x, white_y, white_luminance) = parts[:3], parts[3:]
        light = colour.xyz_from_xy((x, y), luminance)
        return _turned(_lab_angle(light, colour.xyz_from_xy((white_x, white_y), white_luminance)) - lab_at)

    shades = [part for each in (one, white) for part in (each.chromaticity.u_prime, each.chromaticity.v_prime)]
    return HueShift(name, propagated(uv, "deg", shades), propagated(lab, "deg", (*one.parts, *white.parts)))


def _lab_angle(xyz: Any, white: Any) -> float:
    lab = colour.lab_from_xyz(xyz, white)
    return _angle(float(lab[1]), float(lab[2]))


def _angle(first: float, second: float) -> float:
    return math.degrees(math.atan2(second, first))


def _turned(angle: float) -> float:
    """The same angle between -180 and 180 degrees."""
    return (angle + 180.0) % 360.0 - 180.0


PART = gamut
