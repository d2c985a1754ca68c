"""The blocks of a plan: what each kind of measurement can be told, and how its patches are treated.

A key of `ReadingSettings` may stand at the top of the plan, where it holds for every block, and in a block, where it
holds for that block only. A kind of block is one class here (or in a file of its own) and a key of `Block`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from pydantic import ConfigDict, Field

from benchd.plan.block_body import BlockBody as BlockBody
from benchd.plan.block_body import twice as twice
from benchd.profile.reading.base import Lazy, ProfileModel, Wrong, elsewhere
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import AreaPercent, Colour, GreyCode, Grid, Level, Name, Percent, StepCount

if TYPE_CHECKING:
    from benchd.plan.blocks_colour import Colours, Gamut
    from benchd.plan.blocks_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
else:
    Colours, Gamut = (elsewhere("benchd.plan.blocks_colour", name) for name in ("Colours", "Gamut"))
    ColourLevels, Halo, Peak, Sustained, ToneCurve = (
        elsewhere("benchd.plan.blocks_hdr", name) for name in ("ColourLevels", "Halo", "Peak", "Sustained", "ToneCurve")
    )


class Luminance(BlockBody):
    """Full-screen black and white at the centre."""


class Contrast(BlockBody):
    """Contrast: full screens one after the other, and the 4 x 4 checkerboard with its inverse."""

    kinds: tuple[Literal["sequential", "checkerboard"], ...] = Field(
        default=("sequential",), min_length=1, description="which contrasts are measured"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A kind given twice."""
        return twice(data.get("kinds"), "kinds", "kind")


class Grayscale(BlockBody):
    """Greys at the centre: equal steps of the code, or a list of codes."""

    steps: StepCount | None = Field(
        default=None, description="number of equal steps from black to white, both included"
    )
    codes: tuple[GreyCode, ...] | None = Field(default=None, min_length=2, description="codes, in place of steps")
    white: Literal["target", "measured"] = Field(
        default="target",
        description="white of the colour differences: the target's chromaticity, or the measured white",
    )
    area_percent: AreaPercent = 100.0
    surround_percent: Percent = Field(default=0.0, ge=0, le=100, description="surround, percent of the largest code")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Steps and codes at once, or a code given twice."""
        if "steps" in data and "codes" in data:
            yield Wrong(("codes",), "give steps or codes, not both", at_key=True)
        yield from twice(data.get("codes"), "codes", "code")


class Uniformity(BlockBody):
    """A grid of places over the screen, equally spaced between the margins."""

    grid: Grid = Field(default="5x5", description="columns x rows, both 1 to 25")
    levels_percent: tuple[Percent, ...] = Field(
        default=(100.0,), min_length=1, max_length=16, description="grey levels, percent of the largest code"
    )
    margin_percent: float = Field(
        default=10.0, ge=1, le=45, description="first and last place from the edge, percent of the width and height"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A level given twice."""
        return twice(data.get("levels_percent"), "levels_percent", "level")


class ListedPatch(ProfileModel):
    """One patch of a free list."""

    name: Name
    code: Colour | None = Field(default=None, description="one code for a grey, or [red, green, blue]")
    level_cd_m2: Level | None = Field(
        default=None, description="in place of a code, with signal: only: a grey that asks for so many cd/m2"
    )
    area_percent: AreaPercent | None = Field(
        default=None, description="centred window, percent of the screen's area; 100 is the full screen"
    )
    surround: Colour | None = Field(default=None, description="code around the window")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A code and a level at once, or neither."""
        if "code" in data and "level_cd_m2" in data:
            yield Wrong(("level_cd_m2",), "give a code or a level, not both", at_key=True)
        if "name" in data and "code" not in data and "level_cd_m2" not in data:
            yield Wrong((), "needs 'code': one code for a grey, or [red, green, blue]")


class Patches(BlockBody):
    """A free list of patches at the centre, in the plan, in a CSV file, or both."""

    list: tuple[ListedPatch, ...] = Field(default=(), description="patches: {name: red, code: [255, 0, 0]}")
    file: str | None = Field(
        default=None,
        min_length=1,
        description="CSV file beside the plan: name,red,green,blue and where wanted area_percent",
    )
    area_percent: AreaPercent = 100.0
    surround: Colour = Field(default=(0, 0, 0), description="code around the windows")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No patch at all, or a name given twice."""
        listed = data.get("list", [])
        if "file" not in data and listed == []:
            yield Wrong((), "no patches here; give a list, such as list: [{name: red, code: [255, 0, 0]}], or a file")
        names: dict[str, int] = {}
        for index, item in enumerate(listed if isinstance(listed, list) else ()):
            name = item.get("name") if isinstance(item, dict) else None
            if isinstance(name, str) and name in names:
                yield Wrong(("list", index, "name"), f"two patches are called {show(name)}; every name may stand once")
            elif isinstance(name, str):
                names[name] = index


AnyBlock: TypeAlias = "Luminance | Contrast | Grayscale | Uniformity | Patches | Gamut | Colours"
BLOCK_KINDS = (
    "luminance",
    "contrast",
    "grayscale",
    "uniformity",
    "patches",
    "gamut",
    "colours",
    "peak",
    "sustained",
    "tone_curve",
    "halo",
    "colour_levels",
)


class Block(ProfileModel):
    """One measurement: exactly one of the keys."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    luminance: Lazy[Luminance] | None = Field(default=None, description="black and white, full screen")
    contrast: Lazy[Contrast] | None = Field(default=None, description="sequential and checkerboard contrast")
    grayscale: Lazy[Grayscale] | None = Field(default=None, description="greys from black to white")
    uniformity: Lazy[Uniformity] | None = Field(default=None, description="a grid of places over the screen")
    patches: Lazy[Patches] | None = Field(default=None, description="a free list of patches")
    peak: Peak | None = Field(default=None, description="peak luminance over the size of a window, and over time")
    sustained: Sustained | None = Field(default=None, description="what is left of a bright window after minutes")
    tone_curve: ToneCurve | None = Field(default=None, description="an HDR signal's tone curve, and the roll-off")
    halo: Halo | None = Field(default=None, description="black beside bright: dimming zones and haloing")
    colour_levels: ColourLevels | None = Field(default=None, description="HDR colours at several luminances")
    gamut: Gamut | None = Field(default=None, description="full-drive colours: gamut and its volume")
    colours: Colours | None = Field(default=None, description="colours against what they should be")

    @cached_property
    def kind(self) -> str:
        """Which of the keys is given."""
        return next(kind for kind in BLOCK_KINDS if getattr(self, kind) is not None)

    @cached_property
    def body(self) -> AnyBlock:
        """What the key holds."""
        body: AnyBlock = getattr(self, self.kind)
        return body

    @cached_property
    def name(self) -> str:
        """The name given, or the kind."""
        return self.body.name or self.kind

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No block, or several, in one item."""
        kinds = [key for key in data if key in BLOCK_KINDS]
        if not data:
            yield Wrong((), f"an empty block; give one of {', '.join(BLOCK_KINDS)}")
        for kind in kinds[1:]:
            yield Wrong(
                (kind,), f"'{kind}' stands in one list item with '{kinds[0]}'; begin its line with '- '", at_key=True
            )
