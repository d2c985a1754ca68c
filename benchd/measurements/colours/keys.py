"""The keys of colours against a space in a plan."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from benchd.plan.blocks import BlockBody, twice
from benchd.profile.reading.base import Wrong
from benchd.profile.reading.values import AreaPercent, Name, Percent

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
    white: Literal["target", "measured"] = Field(
        default="target",
        description="white of the colour differences: the target's chromaticity, or the measured white",
    )
    adaptation: Literal["bradford", "cat02"] = Field(default="bradford", description="how colours go to another white")
    also: tuple[Literal[76, 94], ...] = Field(
        default=(), description="further formulas beside CIEDE2000: 76 (CIE 1976), 94 (CIE 1994, graphic arts)"
    )
    area_percent: AreaPercent = 100.0
    surround_percent: Percent = Field(default=0.0, ge=0, le=100, description="surround, percent of the largest code")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No source of colours or several, or a saturation or formula given twice."""
        given = [key for key in data if key in SOURCES]
        if not given:
            yield Wrong((), "no colours here; give saturations: [20, 40, 60, 80, 100], chart, random or file")
        for key in given[1:]:
            yield Wrong((key,), f"'{key}' beside '{given[0]}'; give each a block and a name of its own", at_key=True)
        if "diagram" in data and "saturations" not in data:
            yield Wrong(("diagram",), "'diagram' goes with saturations only; remove it", at_key=True)
        yield from twice(data.get("saturations"), "saturations", "saturation")
        yield from twice(data.get("also"), "also", "formula")
