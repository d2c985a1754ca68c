"""Gamut in a plan: its keys and its steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import Field

from benchd.patch.model import Code, equal_codes, grey, max_code
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import HUES, level_code, ordered, space_of, step, window
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.profile_store import ProfileStore, names
from benchd.profile.reading.base import Path
from benchd.profile.reading.values import AreaPercent, Name, SurroundPercent


class Gamut(BlockBody):
    """Full-drive red, green, blue, cyan, magenta, yellow, white and black, and where wanted the cube's faces."""

    area_percent: AreaPercent = 100.0
    surround_percent: SurroundPercent = 0.0
    spaces: tuple[Name, ...] = Field(
        default=(), max_length=40, description="spaces (profiles/spaces/) to compare with; left out: every one there is"
    )
    volume_grid: int | None = Field(
        default=None,
        ge=2,
        le=17,
        description="n: n x n colours on each face of the RGB cube are measured for the gamut volume, n^3 - (n-2)^3 in "
        "all; left out: the volume of the additive model of the primaries",
    )

    key_rules = (EachOnce("spaces", "space"),)


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """The steps of a gamut block."""
    gamut: Gamut = block.body
    surround = grey(level_code(gamut.surround_percent, plan.bits))
    codes = gamut_codes(gamut, plan.bits)
    for name, code in ordered(plan, block, list(codes.items()), key=lambda item: item[0]):
        patch = window(code, plan.bits, gamut.area_percent, surround)
        yield step(plan, block, name, patch, {"name": name}, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """What a log keeps of a gamut block: names of the patches, and the figures of the spaces."""
    gamut: Gamut = block.body
    return {
        "names": list(gamut_codes(gamut, plan.bits)),
        "bits": plan.bits,
        "volume_grid": gamut.volume_grid,
        "area_percent": gamut.area_percent,
        "surround_percent": gamut.surround_percent,
        "spaces": _spaces(gamut, files),
    }


def gamut_codes(gamut: Gamut, bits: int) -> dict[str, Code]:
    """Names and codes of a gamut block: white, black, the six full colours, then the rest of the faces."""
    top = max_code(bits)
    found = {"white": grey(top), "black": grey(0)}
    for name, (red, green, blue) in HUES.items():
        found[name] = (red * top, green * top, blue * top)
    if gamut.volume_grid is not None:
        known = set(found.values())
        for code in face_codes(gamut.volume_grid, bits):
            if code not in known:
                found["-".join(str(channel) for channel in code)] = code
    return found


def face_codes(count: int, bits: int) -> list[Code]:
    """Codes on the six faces of the cube, ``count`` equal steps a side (half up), each once: n^3 - (n-2)^3."""
    levels, ends = equal_codes(count, bits), {0, max_code(bits)}
    return [(r, g, b) for r in levels for g in levels for b in levels if ends & {r, g, b}]


def _spaces(gamut: Gamut, files: Mapping[str, str]) -> list[dict[str, Any]]:
    """The figures of the spaces: in the plan's order, or all of them, the smallest triangle first."""
    if gamut.spaces:
        return [space_of(files, name) for name in gamut.spaces]
    names = sorted(key.removeprefix("spaces/") for key in files if key.startswith("spaces/"))
    return sorted((space_of(files, name) for name in names), key=_size)


def _size(fields: Mapping[str, Any]) -> float:
    """Twice the area of the triangle in CIE 1931 x, y."""
    (x1, y1), (x2, y2), (x3, y3) = (fields["primaries"][name] for name in ("red", "green", "blue"))
    return abs(float((x2 - x1) * (y3 - y1) - (x3 - x1) * (y2 - y1)))


def _profiles(plan: Plan, block: Block) -> Iterator[tuple[Path, ProfileStore, str]]:
    """The spaces that it names, or every one there is."""
    gamut: Gamut = block.body
    for number, name in enumerate(gamut.spaces):
        yield ("spaces", number), "spaces", name
    if not gamut.spaces:
        for name in names("spaces"):
            yield (), "spaces", name


PART = PlanPart(Gamut, steps, describe, example={}, signal="full range", profiles=_profiles)
