"""The colours of a list with their codes: saturations, a chart, random codes or a file."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from benchd.measurements.colours.keys import BLACK, WHITE, Colours
from benchd.patch.model import Code, max_code
from benchd.plan.blocks import Block
from benchd.plan.layout import HUES, space_of
from benchd.plan.plan import Plan
from benchd.profile.charts import read_chart
from benchd.profile.colour_codes import ColourSpace, Triple, adapted, between, xyz_from_lab, xyz_from_xy


class Wanted(NamedTuple):
    """One colour of a list: its codes, XYZ (white has Y = 1) as it was wanted, and whether the space holds it."""

    name: str
    code: Code
    aim: Triple
    outside: bool


def space_fields(plan: Plan, colours: Colours, files: Mapping[str, str]) -> dict[str, Any]:
    """The space that makes the codes: the block's own, else the plan's target."""
    if colours.space is not None:
        return space_of(files, colours.space)
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


def of_what(plan: Plan, colours: Colours, files: Mapping[str, str]) -> tuple[str, str]:
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
