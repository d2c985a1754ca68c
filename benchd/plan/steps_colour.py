"""Steps of the colour blocks: full-drive colours, faces of the RGB cube, and colours turned into codes of a space.

What a log keeps of a list of colours is its codes and the colours that were wanted, so that analysis needs no
chart, and of every space its figures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from benchd.patch.model import Code, grey, max_code
from benchd.plan.blocks import Block
from benchd.plan.blocks_colour import Colours, Gamut
from benchd.plan.plan import Plan
from benchd.plan.step import Step
from benchd.plan.step_layout import level_code, ordered, step, window
from benchd.profile.charts import read_chart
from benchd.profile.colour_codes import ColourSpace, Triple, adapted, between, xyz_from_lab, xyz_from_xy

HUES: dict[str, tuple[int, int, int]] = {
    "red": (1, 0, 0),
    "green": (0, 1, 0),
    "blue": (0, 0, 1),
    "cyan": (0, 1, 1),
    "magenta": (1, 0, 1),
    "yellow": (1, 1, 0),
}
WHITE, BLACK = "reference-white", "reference-black"
"""Names of the patches that every list of colours needs beside its own."""


class Wanted(NamedTuple):
    """One colour of a list: its codes, XYZ (white has Y = 1) as it was wanted, and whether the space holds it."""

    name: str
    code: Code
    aim: Triple
    outside: bool


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
    top = max_code(bits)
    levels = [(2 * index * top + (count - 1)) // (2 * (count - 1)) for index in range(count)]
    ends = {0, top}
    return [(r, g, b) for r in levels for g in levels for b in levels if ends & {r, g, b}]


def gamut_steps(plan: Plan, block: Block, gamut: Gamut) -> Iterator[Step]:
    """The steps of a gamut block."""
    surround = grey(level_code(gamut.surround_percent, plan.bits))
    codes = gamut_codes(gamut, plan.bits)
    for name, code in ordered(plan, block, list(codes.items()), key=lambda item: item[0]):
        patch = window(code, plan.bits, gamut.area_percent, surround)
        yield step(plan, block, name, patch, {"name": name}, patch.code)


def gamut_described(plan: Plan, gamut: Gamut, files: Mapping[str, str]) -> dict[str, Any]:
    """What a log keeps of a gamut block: names of the patches, and the figures of the spaces."""
    return {
        "names": list(gamut_codes(gamut, plan.bits)),
        "bits": plan.bits,
        "volume_grid": gamut.volume_grid,
        "area_percent": gamut.area_percent,
        "surround_percent": gamut.surround_percent,
        "spaces": _spaces(gamut, files),
    }


def colours_steps(plan: Plan, block: Block, colours: Colours, files: Mapping[str, str]) -> Iterator[Step]:
    """The steps of a list of colours: white, black where the curve needs it, and every colour."""
    surround = grey(level_code(colours.surround_percent, plan.bits))
    space = ColourSpace(space_fields(plan, colours, files))
    listed = [(one.name, one.code) for one in wanted(plan, block, colours, files)]
    listed += [(WHITE, grey(max_code(plan.bits)))]
    if space.curve == "bt1886":
        listed.append((BLACK, grey(0)))
    for name, code in ordered(plan, block, listed, key=lambda item: item[0]):
        patch = window(code, plan.bits, colours.area_percent, surround)
        yield step(plan, block, name, patch, {"name": name}, patch.code)


def colours_described(plan: Plan, block: Block, colours: Colours, files: Mapping[str, str]) -> dict[str, Any]:
    """What a log keeps of a list of colours: each with its codes and the colour that was wanted."""
    words, source = _of_what(plan, colours, files)
    return {
        "list": words,
        "source": source,
        "space": space_fields(plan, colours, files),
        "aim": colours.aim,
        "white": colours.white,
        "adaptation": colours.adaptation,
        "also": list(colours.also),
        "bits": plan.bits,
        "area_percent": colours.area_percent,
        "surround_percent": colours.surround_percent,
        "patches": [
            {"name": one.name, "code": list(one.code), "aim": list(one.aim), "outside": one.outside}
            for one in wanted(plan, block, colours, files)
        ],
    }


def space_fields(plan: Plan, colours: Colours, files: Mapping[str, str]) -> dict[str, Any]:
    """The space that makes the codes: the block's own, else the plan's target."""
    if colours.space is not None:
        return _space_fields(files, colours.space)
    from benchd.profile.profile_store import load_target

    key = f"targets/{plan.target}"
    return load_target(files[key], key).normalised()


def wanted(plan: Plan, block: Block, colours: Colours, files: Mapping[str, str]) -> list[Wanted]:
    """The colours of a list with their codes. Raises `ProfileError` for a fault in a chart."""
    space = ColourSpace(space_fields(plan, colours, files))
    if colours.saturations is not None:
        return list(_saturations(colours, space, plan.bits))
    if colours.random is not None:
        return [_of_code(name, code, space, plan.bits) for name, code in _random(plan, block, colours.random)]
    return _of_chart(colours, space, plan.bits, files)


def _saturations(colours: Colours, space: ColourSpace, bits: int) -> Iterator[Wanted]:
    for hue, (red, green, blue) in HUES.items():
        columns = zip(*space.to_xyz, strict=True)
        parts = [column for column, used in zip(columns, (red, green, blue), strict=True) if used]
        x, y, z = (sum(values) for values in zip(*parts, strict=True))
        for percent in colours.saturations or ():
            aim = between(space.white_xy, (x, y, z), percent / 100.0, colours.diagram)
            yield Wanted(f"{hue}-{percent:g}", *_coded(space, aim, bits))


def _random(plan: Plan, block: Block, count: int) -> Iterator[tuple[str, Code]]:
    """Codes, all equally likely, by the hash of seed, block and number: no library can change them."""
    digits = len(str(count))
    for number in range(1, count + 1):
        digest = hashlib.sha256(f"{plan.seed}/{block.name}/random/{number}".encode()).digest()
        red, green, blue = (
            int.from_bytes(digest[start : start + 8], "big") % (max_code(plan.bits) + 1) for start in (0, 8, 16)
        )
        yield f"random-{number:0{digits}d}", (red, green, blue)


def _of_chart(colours: Colours, space: ColourSpace, bits: int, files: Mapping[str, str]) -> list[Wanted]:
    key, name = _chart_key(colours)
    chart = read_chart(files[key], name, bits, taken=frozenset((WHITE, BLACK)))
    found = []
    for one in chart.colours:
        if chart.form == "code":
            red, green, blue = (int(figure) for figure in one.figures)
            found.append(_of_code(one.name, (red, green, blue), space, bits))
            continue
        if chart.form == "lab":
            assert chart.white is not None  # the reader insists on it
            xyz = xyz_from_lab(one.figures, xyz_from_xy(chart.white))
        else:
            x, y, luminance = one.figures
            xyz = (x / y * luminance, luminance, (1.0 - x - y) / y * luminance)
        if chart.white is not None:
            xyz = adapted(xyz, chart.white, space.white_xy, colours.adaptation)
        found.append(Wanted(one.name, *_coded(space, xyz, bits)))
    return found


def _coded(space: ColourSpace, aim: Triple, bits: int) -> tuple[Code, Triple, bool]:
    code, outside = space.coded(aim, bits)
    return code, aim, outside


def _of_code(name: str, code: Code, space: ColourSpace, bits: int) -> Wanted:
    return Wanted(name, code, space.decoded(code, bits), False)


def _chart_key(colours: Colours) -> tuple[str, str]:
    """The key of the text in the plan's files, and the name for the operator."""
    if colours.chart is not None:
        return f"charts/{colours.chart}", f"charts/{colours.chart}.csv"
    assert colours.file is not None  # the model insists on one source
    return colours.file, colours.file


def _of_what(plan: Plan, colours: Colours, files: Mapping[str, str]) -> tuple[str, str]:
    """The list in words, and where its figures are from."""
    if colours.saturations is not None:
        diagram = "CIE 1976 u', v'" if colours.diagram == "uv" else "CIE 1931 x, y"
        steps = ", ".join(f"{percent:g}" for percent in colours.saturations)
        return f"saturations {steps} %, straight from white in {diagram}, luminance of the full colour", ""
    if colours.random is not None:
        return f"{colours.random} random codes, seed {plan.seed}", ""
    key, name = _chart_key(colours)
    words = f"chart {colours.chart}" if colours.chart else f"file {name}"
    return words, read_chart(files[key], name, plan.bits).source


def _spaces(gamut: Gamut, files: Mapping[str, str]) -> list[dict[str, Any]]:
    """The figures of the spaces: in the plan's order, or all of them, the smallest triangle first."""
    if gamut.spaces:
        return [_space_fields(files, name) for name in gamut.spaces]
    names = sorted(key.removeprefix("spaces/") for key in files if key.startswith("spaces/"))
    return sorted((_space_fields(files, name) for name in names), key=_size)


def _size(fields: Mapping[str, Any]) -> float:
    """Twice the area of the triangle in CIE 1931 x, y."""
    (x1, y1), (x2, y2), (x3, y3) = (fields["primaries"][name] for name in ("red", "green", "blue"))
    return abs(float((x2 - x1) * (y3 - y1) - (x3 - x1) * (y2 - y1)))


def _space_fields(files: Mapping[str, str], name: str) -> dict[str, Any]:
    key = f"spaces/{name}"
    return {**_parsed_space(key, files[key])}


@lru_cache(maxsize=64)
def _parsed_space(key: str, text: str) -> dict[str, Any]:
    """The figures in the text of a space; every point of a sweep asks for the same few."""
    from benchd.profile.reading.strict_yaml import load_model
    from benchd.profile.space import Space

    return load_model(Space, text, f"{key}.yaml").normalised()
