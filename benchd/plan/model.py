"""The plan: what is to be measured, as an operator writes it. Files are loaded by `benchd.plan.library`.

Keys that carry a quantity end in its unit. A key of `Care` may stand at the top of the plan, where it holds
for every block, and in a block, where it holds for that block only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, ConfigDict, Field

from benchd.patch.model import Code
from benchd.plan.base import ProfileModel, Wrong, wrong
from benchd.plan.explain import show
from benchd.plan.sweep import Conditions, Swept, sweep_wrong
from benchd.plan.values import (
    DEEPEST_BITS,
    AreaPercent,
    Colour,
    GreyCode,
    Grid,
    Integration,
    Name,
    Percent,
    StepCount,
)

Order = Annotated[
    Literal["listed", "shuffled"],
    Field(description="order of the patches within a block; shuffled by the seed, so always alike"),
]
Settle = Annotated[float, Field(ge=0, le=600, description="seconds to wait after a patch is on the screen")]
DarkSettle = Annotated[float, Field(ge=0, le=600, description="seconds to wait after a dark patch")]
Readings = Annotated[int, Field(ge=1, le=1000, description="readings of each patch")]
DarkReadings = Annotated[int, Field(ge=1, le=1000, description="readings of each dark patch")]
DarkUpTo = Annotated[
    float,
    Field(ge=0, le=100, description="a patch is dark when its largest code is at or below this percent"),
]


class Care(ProfileModel):
    """How patches are treated; what is left out is as the plan says."""

    order: Order | None = None
    settle_s: Settle | None = None
    dark_settle_s: DarkSettle | None = None
    readings: Readings | None = None
    dark_readings: DarkReadings | None = None
    dark_up_to_percent: DarkUpTo | None = None
    integration_s: Integration | None = Field(
        default=None, description="seconds of one reading, or auto (the meter decides)"
    )
    dark_integration_s: Integration | None = Field(
        default=None, description="seconds of one reading of a dark patch, or auto"
    )


class _AnyBlock(Care):
    name: Name | None = Field(default=None, description="name of the block, where a plan has two of a kind")
    skip: Conditions = Field(default=(), description="points of the sweep where this block is not measured")
    only: Conditions = Field(default=(), description="the only points of the sweep where this block is measured")


class Luminance(_AnyBlock):
    """Full-screen black and white at the centre."""


class Contrast(_AnyBlock):
    """Contrast: full screens one after the other, and the 4 x 4 checkerboard with its inverse."""

    kinds: tuple[Literal["sequential", "checkerboard"], ...] = Field(
        default=("sequential",), min_length=1, description="which contrasts are measured"
    )

    @classmethod
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A kind given twice."""
        return _twice(data.get("kinds"), "kinds", "kind")


class Grayscale(_AnyBlock):
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
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Steps and codes at once, or a code given twice."""
        if "steps" in data and "codes" in data:
            yield Wrong(("codes",), "give steps or codes, not both", at_key=True)
        yield from _twice(data.get("codes"), "codes", "code")


class Uniformity(_AnyBlock):
    """A grid of places over the screen, equally spaced between the margins."""

    grid: Grid = Field(default="5x5", description="columns x rows, both 1 to 25")
    levels_percent: tuple[Percent, ...] = Field(
        default=(100.0,), min_length=1, max_length=16, description="grey levels, percent of the largest code"
    )
    margin_percent: float = Field(
        default=10.0, ge=1, le=45, description="first and last place from the edge, percent of the width and height"
    )

    @classmethod
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A level given twice."""
        return _twice(data.get("levels_percent"), "levels_percent", "level")


class ListedPatch(ProfileModel):
    """One patch of a free list."""

    name: Name
    code: Colour = Field(description="one code for a grey, or [red, green, blue]")
    area_percent: AreaPercent | None = Field(
        default=None, description="centred window, percent of the screen's area; 100 is the full screen"
    )
    surround: Colour | None = Field(default=None, description="code around the window")


class Patches(_AnyBlock):
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
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
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


AnyBlock = Luminance | Contrast | Grayscale | Uniformity | Patches
BLOCK_KINDS = ("luminance", "contrast", "grayscale", "uniformity", "patches")


class Block(ProfileModel):
    """One measurement: exactly one of the keys."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    luminance: Luminance | None = Field(default=None, description="black and white, full screen")
    contrast: Contrast | None = Field(default=None, description="sequential and checkerboard contrast")
    grayscale: Grayscale | None = Field(default=None, description="greys from black to white")
    uniformity: Uniformity | None = Field(default=None, description="a grid of places over the screen")
    patches: Patches | None = Field(default=None, description="a free list of patches")

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
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No block, or several, in one item."""
        kinds = [key for key in data if key in BLOCK_KINDS]
        if not data:
            yield Wrong((), f"an empty block; give one of {', '.join(BLOCK_KINDS)}")
        for kind in kinds[1:]:
            yield Wrong(
                (kind,), f"'{kind}' stands in one list item with '{kinds[0]}'; begin its line with '- '", at_key=True
            )


class WarmUpLimits(NamedTuple):
    """How long the screen warms up before the first block, in minutes of bench time."""

    at_least_min: float
    at_most_min: float
    until_stable: bool


class WarmUp(ProfileModel):
    """Warming up: a number of minutes, or until the light is stable."""

    minutes: float | None = Field(default=None, ge=1, le=600, description="minutes, whatever the light does")
    until: Literal["stable"] | None = Field(default=None, description="until ten minutes of readings agree")
    at_least_min: float = Field(
        default=20.0, ge=0, le=600, description="minutes to warm up at least, with until: stable"
    )
    at_most_min: float = Field(
        default=60.0, ge=1, le=600, description="minutes after which the run goes on, marked not stable"
    )

    @property
    def limits(self) -> WarmUpLimits | None:
        """None: no warm-up."""
        if self.minutes is not None:
            return WarmUpLimits(self.minutes, self.minutes, False)
        return WarmUpLimits(self.at_least_min, self.at_most_min, True) if self.until else None

    @classmethod
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Both rules, none, or limits that contradict each other."""
        if "minutes" in data and "until" in data:
            yield Wrong(("until",), "give minutes or until: stable, not both", at_key=True)
        if "minutes" not in data and "until" not in data:
            yield Wrong((), "write none, {minutes: 30} or {until: stable, at_least_min: 20, at_most_min: 60}")
        for key in ("at_least_min", "at_most_min"):
            if key in data and "until" not in data and "minutes" in data:
                yield Wrong((key,), f"'{key}' goes with until: stable only; with minutes, take it away", at_key=True)
        least, most = data.get("at_least_min", 20.0), data.get("at_most_min", 60.0)
        numbers = all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in (least, most))
        if numbers and "until" in data and least > most:
            key = "at_least_min" if "at_least_min" in data else "at_most_min"
            yield Wrong((key,), f"at_least_min {least:g} is more than at_most_min {most:g}")


class Reference(ProfileModel):
    """A reference patch at the centre, read at intervals."""

    every_min: float = Field(default=5.0, ge=0.5, le=240, description="minutes of planned time between two of them")
    percent: float = Field(default=100.0, ge=5, le=100, description="grey level, percent of the largest code")


def _warm_up(value: Any) -> Any:
    if value == "none":
        return {}
    if not isinstance(value, dict):
        raise wrong(f"warm_up {show(value)}: write none, {{minutes: 30}} or {{until: stable, at_most_min: 60}}")
    return value


def _none_or_rule(schema: dict[str, Any]) -> None:
    schema["anyOf"] = [{"const": "none"}, {"$ref": schema.pop("$ref")}]


class Plan(ProfileModel):
    """A test plan."""

    plan: Name = Field(description="name of the plan, as the file's")
    about: str = Field(default="", description="one line for whoever looks for a plan")
    target: str = Field(default="srgb", min_length=1, description="name of a target: what the screen should do")
    bits: Literal[8, 10] = Field(default=8, description="bits of a code")
    seed: int = Field(
        default=1, ge=0, le=2_147_483_647, description="begins the shuffling; the same seed, the same order"
    )
    warm_up: Annotated[WarmUp, BeforeValidator(_warm_up)] = Field(
        default_factory=lambda: WarmUp(until="stable"),
        description="none, {minutes: 30} or {until: stable}; left out: until stable, 20 to 60 minutes",
        json_schema_extra=_none_or_rule,
    )
    order: Order = "shuffled"
    settle_s: Settle = 0.6
    dark_settle_s: DarkSettle = 3.0
    readings: Readings = 3
    dark_readings: DarkReadings = 5
    dark_up_to_percent: DarkUpTo = 5.0
    integration_s: Integration = Field(
        default="auto", description="seconds of one reading, or auto (the meter decides)"
    )
    dark_integration_s: Integration = Field(default=1.0, description="seconds of one reading of a dark patch, or auto")
    sweep: tuple[Swept, ...] = Field(
        default=(), description="display controls; every block is measured at every combination of their values"
    )
    skip: Conditions = Field(default=(), description="points of the sweep that are left out")
    only: Conditions = Field(default=(), description="the only points of the sweep that are measured")
    reference: Reference | None = Field(
        default=None, description="a patch read again and again, which tells drift; left out: none"
    )
    look_again: bool = Field(
        default=True,
        description="true: the first bright and the first dark patch are read again now and then and at the end, so "
        "that a lamp, a moved meter or a display that dims itself is known",
    )
    rewarm_after_min: float = Field(
        default=10.0, gt=0, le=1440, description="minutes of a gap after which a resume warms up again"
    )
    bright_at_most_s: float = Field(
        default=60.0, ge=1, le=3600, description="seconds that an emissive panel shows one bright patch at most"
    )
    rest_s: float = Field(default=10.0, ge=1, le=600, description="seconds of dark between, after such a time")
    blocks: tuple[Block, ...] = Field(min_length=1, max_length=200, description="what is measured, in this order")

    @classmethod
    def context(cls, data: Mapping[str, Any]) -> dict[str, Any]:
        """The bit depth, which codes are judged by."""
        bits = data.get("bits", 8)
        return {"bits": bits if bits in (8, DEEPEST_BITS) and not isinstance(bits, float) else None}

    @classmethod
    def wrong_together(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Two blocks of one name."""
        seen: set[str] = set()
        for path, name in _block_names(data.get("blocks")):
            if name in seen:
                yield Wrong(path, f"two blocks are called {show(name)}; give one of them another name:")
            seen.add(name)
            if name == "reference":
                yield Wrong(path, "'reference' is the name of the reference patch; give the block another name:")
        yield from sweep_wrong(data)

    @property
    def files(self) -> tuple[str, ...]:
        """The CSV files that the plan needs, each once."""
        found = (block.patches.file for block in self.blocks if block.patches is not None)
        return tuple(dict.fromkeys(file for file in found if file is not None))


class Treatment(NamedTuple):
    """How one patch is treated."""

    settle_s: float
    readings: int
    integration_s: float | None  # None: the meter decides
    dark: bool


def treatment(plan: Plan, block: Care, code: Code, largest: int) -> Treatment:
    """How a patch whose measured part has ``code`` (``largest``: the largest code there is) is treated."""

    def chosen(key: str) -> Any:
        own = getattr(block, key)
        return getattr(plan, key) if own is None else own

    dark = max(code) * 100.0 <= chosen("dark_up_to_percent") * largest
    prefix = "dark_" if dark else ""
    integration = chosen(f"{prefix}integration_s")
    return Treatment(
        settle_s=float(chosen(f"{prefix}settle_s")),
        readings=int(chosen(f"{prefix}readings")),
        integration_s=None if integration == "auto" else float(integration),
        dark=dark,
    )


def _block_names(blocks: Any) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """Where each block is named, and its name, from plain data of any shape."""
    for index, block in enumerate(blocks if isinstance(blocks, list) else ()):
        for kind, body in block.items() if isinstance(block, dict) else ():
            name = body.get("name") if isinstance(body, dict) else None
            if isinstance(name, str):
                yield ("blocks", index, kind, "name"), name
            elif kind in BLOCK_KINDS:
                yield ("blocks", index, kind), kind


def _twice(values: Any, key: str, what: str) -> Iterator[Wrong]:
    """Items of a list that stand in it twice."""
    seen: list[Any] = []
    for index, value in enumerate(values if isinstance(values, list) else ()):
        if value in seen:
            yield Wrong((key, index), f"{what} {show(value)} is given twice; once is enough")
        else:
            seen.append(value)
