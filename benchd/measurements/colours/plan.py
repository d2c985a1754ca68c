"""Colours against a space in a plan: their keys and their steps."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import Field

from benchd.patch.model import Code, grey, max_code
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import HUES, level_code, ordered, space_of, step, window
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.step import At, Step
from benchd.profile.charts import read_chart
from benchd.profile.colour_codes import ColourSpace, Triple, adapted, between, xyz_from_lab, xyz_from_xy
from benchd.profile.profile_store import ProfileStore
from benchd.profile.reading.base import Path, Rule, Wrong
from benchd.profile.reading.values import AreaPercent, Name, SurroundPercent, WhiteOfDifferences

SOURCES = ("saturations", "chart", "random", "file")
"""Where the colours of a block come from; each block has one, so that no average mixes two."""


Saturation = Annotated[float, Field(gt=0, le=100, description="percent of the way from white to the full colour")]


WHITE, BLACK = "reference-white", "reference-black"
"""Names of the patches that every list of colours needs beside its own."""


class Colours(BlockBody):
    """Colours against a space: a saturation sweep, a chart, random colours or a file; one of them a block."""

    saturations: tuple[Saturation, ...] | None = Field(
        default=None,
        min_length=1,
        max_length=100,
        description="percents, of the three primaries and the three secondaries",
    )
    diagram: Literal["uv", "xy"] = Field(
        default="uv", description="saturations go straight from white in CIE 1976 u', v' or in CIE 1931 x, y"
    )
    chart: Name | None = Field(default=None, description="name of a chart: profiles/charts/NAME.csv")
    random: int | None = Field(default=None, ge=1, le=5000, description="how many random codes, by the plan's seed")
    file: str | None = Field(
        default=None, min_length=1, description="CSV file beside the plan: name and L,a,b or x,y,Y or red,green,blue"
    )
    space: Name | None = Field(
        default=None, description="space (profiles/spaces/) that makes the codes; left out: the plan's target"
    )
    aim: Literal["clamped", "unclamped"] = Field(
        default="clamped",
        description="a colour outside the space is held against its clamped codes, or against the colour itself",
    )
    white: WhiteOfDifferences = "target"
    adaptation: Literal["bradford", "cat02"] = Field(default="bradford", description="how colours go to another white")
    also: tuple[Literal[76, 94], ...] = Field(
        default=(), description="further formulas beside CIEDE2000: 76 (CIE 1976), 94 (CIE 1994, graphic arts)"
    )
    area_percent: AreaPercent = 100.0
    surround_percent: SurroundPercent = 0.0

    key_rules = (
        Rule(("diagram",), ("saturations",), "'diagram' goes with saturations only; remove it", at="diagram"),
        EachOnce("saturations", "saturation"),
        EachOnce("also", "formula"),
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No source of colours, or several."""
        given = [key for key in data if key in SOURCES]
        if not given:
            yield Wrong((), "no colours here; give saturations: [20, 40, 60, 80, 100], chart, random or file")
        for key in given[1:]:
            yield Wrong((key,), f"'{key}' beside '{given[0]}'; give each a block and a name of its own", at_key=True)


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


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """The steps of a list of colours: white, black where the curve needs it, and every colour."""
    colours: Colours = block.body
    surround = grey(level_code(colours.surround_percent, plan.bits))
    space = ColourSpace(space_fields(plan, colours, files))
    listed = [(one.name, one.code) for one in wanted(plan, block, colours, files)]
    listed += [(WHITE, grey(max_code(plan.bits)))]
    if space.curve == "bt1886":
        listed.append((BLACK, grey(0)))
    for name, code in ordered(plan, block, listed, key=lambda item: item[0]):
        patch = window(code, plan.bits, colours.area_percent, surround)
        yield step(plan, block, name, patch, {"name": name}, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """What a log keeps of a list of colours: each with its codes and the colour that was wanted."""
    colours: Colours = block.body
    words, source = of_what(plan, colours, files)
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


def _profiles(plan: Plan, block: Block) -> Iterator[tuple[Path, ProfileStore, str]]:
    """The chart, and the space that makes the codes: its own or the plan's target."""
    colours: Colours = block.body
    if colours.chart is not None:
        yield ("chart",), "charts", colours.chart
    if colours.space is not None:
        yield ("space",), "spaces", colours.space
    else:
        yield (), "targets", plan.target


PART = PlanPart(Colours, steps, describe, example={"saturations": [100]}, profiles=_profiles)
