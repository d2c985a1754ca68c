"""The plan: what is to be measured, as an operator writes it. Files are loaded by `benchd.profile.profile_store`.

Keys that carry a quantity end in its unit. The keys of the blocks: `benchd.plan.blocks`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from importlib import import_module
from typing import TYPE_CHECKING, Annotated, Any, Literal, NamedTuple

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.errors import PackageError
from benchd.measurements import registry
from benchd.patch.model import Code, Patch
from benchd.plan.blocks import (
    DEFAULT_AT_MOST_S,
    PRECISION_RULES,
    AnyBlock,
    AtMost,
    DarkReadings,
    DarkSettle,
    DarkUpTo,
    Order,
    Readings,
    ReadingSettings,
    Repeatability,
    Settle,
    fraction,
)
from benchd.plan.offset_readings import AMBIENT, DARK_OFFSET, Ambient, DarkOffset, Subtract, subtract_wrong
from benchd.plan.signal import Signal
from benchd.plan.step import CENTRE, At, Labels, Precision, Step
from benchd.plan.sweep import Conditions, Swept, conditions_wrong, points_wrong, swept_values
from benchd.profile.reading.base import CheckedLazily, Path, ProfileModel, Rule, Wrong, is_number, items_of, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import DEEPEST_BITS, Integration, Name, Setting

if TYPE_CHECKING:
    from benchd.profile.conditions_model import MeasuringConditions as Stated
else:
    # Few plans state any; all others don't wait for what checks them.
    Stated = Annotated[Any, CheckedLazily(lambda: import_module("benchd.profile.conditions_model").MeasuringConditions)]

_PlainBlock = tuple[Path, str, Any]
"""Where a block of plain data stands, its kind, and what its key holds."""

SignalRule = Literal["sdr", "full range", "any", "needed"]
"""May a plan with a signal have a kind of block: not, on a scale of the full range, always, or only such a plan?"""


def _signal_wrong(data: Mapping[str, Any], blocks: Iterable[_PlainBlock]) -> Iterable[Wrong]:
    """What does not fit together between a plan's signal, bits and blocks."""
    signal = data.get("signal")
    if isinstance(signal, dict) and "bits" in data and data["bits"] != signal.get("bits", 10):
        yield Wrong(("bits",), "with a signal, its bits are those of the codes: state it there, or remove it", True)
    narrow = isinstance(signal, dict) and signal.get("range") == "narrow"
    if narrow and "reference" in data:
        yield Wrong(("reference",), "a reference is a percent of the largest code: not on a narrow range", True)
    for where, kind, body in blocks:
        rule = _rule(kind)
        if rule == "needed" and signal is None:
            yield Wrong(where, f"'{kind}' needs the scale of the codes: signal: {{transfer: pq}}", True)
        elif signal is None and rule is not None and isinstance(body, dict):
            items = [((*where, "list", number), item) for number, item in enumerate(items_of(body.get("list")))]
            for path, part in ((where, body if rule == "any" else {}), *items):
                if isinstance(part, dict) and "level_cd_m2" in part:
                    yield Wrong((*path, "level_cd_m2"), "a level in cd/m2 needs signal: {transfer: pq}", True)
        elif narrow and rule == "full range":
            yield Wrong(where, f"'{kind}' shows codes outside the narrow range; use range: full, or 'patches'", True)
        elif signal is not None and rule == "sdr":
            yield Wrong(where, f"'{kind}' is held against an SDR target; take it out of a plan with a signal", True)


def _rule(kind: str) -> SignalRule | None:
    """The rule of a kind; None where it can't be used, which is reported elsewhere."""
    try:
        found: SignalRule = registry.part(kind, "plan").signal
    except PackageError:
        return None
    return found


class WarmUpLimits(NamedTuple):
    """How long the screen warms up before the first block, in minutes of bench time."""

    at_least_min: float
    at_most_min: float
    until_stable: bool


class WarmUp(ProfileModel):
    """Warming up: a number of minutes, or until the light is stable."""

    key_rules = (
        Rule(("minutes", "until"), (), "give minutes or until: stable, not both", "until"),
        Rule(
            (), ("minutes", "until"), "write none, {minutes: 30} or {until: stable, at_least_min: 20, at_most_min: 60}"
        ),
        *(
            Rule(("minutes", key), ("until",), f"'{key}' goes with until: stable only; with minutes, remove it", key)
            for key in ("at_least_min", "at_most_min")
        ),
    )

    minutes: float | None = Field(default=None, ge=1, le=600, description="minutes, whatever the light does")
    until: Literal["stable"] | None = Field(default=None, description="until ten minutes of readings agree")
    at_least_min: float = Field(
        default=20.0, ge=0, le=600, description="minimum warm-up in minutes, with until: stable"
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
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Limits that contradict each other."""
        least, most = data.get("at_least_min", 20.0), data.get("at_most_min", 60.0)
        if is_number(least) and is_number(most) and "until" in data and least > most:
            key = "at_least_min" if "at_least_min" in data else "at_most_min"
            yield Wrong((key,), f"at_least_min {least:g} is more than at_most_min {most:g}")


OWN_NAMES = {
    "reference": "the reference patch",
    DARK_OFFSET: "the readings with the cap on",
    AMBIENT: "the readings of the room's light",
}
"""Blocks of a log that no block of a plan may be called."""


class Reference(ProfileModel):
    """A reference patch at the centre, read at intervals."""

    every_min: float = Field(default=5.0, ge=0.5, le=240, description="minutes of planned time between two of them")
    percent: float = Field(default=100.0, ge=5, le=100, description="grey level, percent of the largest code")
    compensate: bool = Field(
        default=True,
        description="true: what the patch did meanwhile is taken out of the results; the log keeps every reading as it "
        "was, and `benchd results --no-compensation` shows the results without",
    )


def _warm_up(value: Any) -> Any:
    if value == "none":
        return {}
    if not isinstance(value, dict):
        raise wrong(f"warm_up {show(value)}: write none, {{minutes: 30}} or {{until: stable, at_most_min: 60}}")
    return value


def _none_or_rule(schema: dict[str, Any]) -> None:
    schema["anyOf"] = [{"const": "none"}, {"$ref": schema.pop("$ref")}]


def _figure(value: Any) -> Any:
    """The name that a report has of a figure; any other value is left to the type."""
    if not isinstance(value, str):
        return value
    from benchd.measurements.declared_figure import declared_figures, figure_called  # few plans name a figure

    try:
        return figure_called(value, (one for one in declared_figures() if one.headline))[0]
    except ValueError as error:
        raise wrong(str(error)) from None


FigureName = Annotated[str, BeforeValidator(_figure), WithJsonSchema({"type": "string"})]


class Plan(ProfileModel):
    """A test plan."""

    key_rules = PRECISION_RULES

    plan: Name = Field(description="name of the plan, which its results carry whatever its file is called")
    about: str = Field(default="", description="one line of description")
    target: str = Field(default="srgb", min_length=1, description="name of a target: what the screen should do")
    own_bits: Literal[8, 10] = Field(default=8, alias="bits", description="bits of a code")
    signal: Signal | None = Field(
        default=None, description="the scale of HDR codes: {transfer: pq, bits: 10, range: full}; left out: SDR"
    )
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
    repeatability: Repeatability | None = None
    reading_time_at_most_s: AtMost = DEFAULT_AT_MOST_S
    integration_s: Integration = Field(
        default="auto", description="seconds of one reading, or auto (the meter decides)"
    )
    dark_integration_s: Integration = Field(default=1.0, description="seconds of one reading of a dark patch, or auto")
    sync: Literal["auto", "refresh", "none"] = Field(
        default="auto",
        description="refresh: readings last a multiple of two frames of the display, 200 ms at least, and the run does "
        "not start where its refresh rate is not known; auto: so where it is known; none: as the times state",
    )
    sweep: tuple[Swept, ...] = Field(
        default=(), description="display controls; every block is measured at every combination of their values"
    )
    skip: Conditions = Field(default=(), description="points of the sweep that are left out")
    only: Conditions = Field(default=(), description="the only points of the sweep that are measured")
    reference: Reference | None = Field(
        default=None, description="a patch that is read repeatedly to find drift; left out: none"
    )
    dark_offset: DarkOffset | None = Field(
        default=None, description="readings with the cap on the meter, a block of their own; left out: none"
    )
    ambient: Ambient | None = Field(
        default=None, description="readings of the room's light, a block of their own; left out: none"
    )
    subtract: Subtract = Field(
        default=(),
        description="what is subtracted from every reading, by name: dark_offset or ambient; left out: nothing",
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
    conditions: Stated | None = Field(
        default=None,
        description="what the display must be set to for this plan, recorded with each run of it",
    )
    headline: tuple[FigureName, ...] = Field(
        default=(),
        max_length=12,
        description="the figures that the summary of the results shows, by their names or their short ones as "
        "`benchd library list --figures` has them: [contrast, gray-de-mean]; left out: a line or two of each block",
    )
    blocks: tuple[AnyBlock, ...] = Field(min_length=1, max_length=200, description="what is measured, in this order")

    @classmethod
    def context(cls, data: Mapping[str, Any]) -> dict[str, Any]:
        """The bit depth, which codes are judged by. A kind of block that is not built in is looked for here."""
        for _, kind, _ in _plain_blocks(data):
            registry.is_known(kind)
        signal = data.get("signal")
        bits = signal.get("bits", 10) if isinstance(signal, dict) else data.get("bits", 8)
        return {"bits": bits if bits in (8, DEEPEST_BITS) and not isinstance(bits, float) else None}

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Names, settings of a sweep, a signal or a subtraction that do not fit together."""
        blocks, names, values = list(_plain_blocks(data)), set[str](), swept_values(data)
        for where, kind, body in blocks:
            given = body.get("name") if isinstance(body, dict) else None
            path, name = ((*where, "name"), given) if isinstance(given, str) else (where, kind)
            if name == kind and not registry.is_known(kind):
                continue
            if name in names:
                yield Wrong(path, f"two blocks are called {show(name)}; give one of them another name (key name)")
            names.add(name)
            if name in OWN_NAMES:
                yield Wrong(path, f"'{name}' is the name of {OWN_NAMES[name]}; give the block another name (key name)")
        yield from points_wrong(data)
        for path, part in (((), data), *((where, body) for where, _, body in blocks if isinstance(body, dict))):
            yield from conditions_wrong(values, part, path)
        yield from _signal_wrong(data, blocks)
        yield from subtract_wrong(data)
        yield from _headline_wrong(data, {kind for _, kind, _ in blocks})

    @property
    def stated_conditions(self) -> dict[str, Setting]:
        """What the plan states of its conditions, by their key."""
        return {} if self.conditions is None else self.conditions.stated()

    @property
    def bits(self) -> int:
        """Bits of a code: an HDR plan's are those of its signal."""
        return self.own_bits if self.signal is None else self.signal.bits

    @property
    def code_range(self) -> str:
        """full or narrow: SDR codes are always full."""
        return "full" if self.signal is None else self.signal.range

    @property
    def files(self) -> tuple[str, ...]:
        """The CSV files that the plan needs, each once."""
        found = (getattr(block.body, "file", None) for block in self.blocks)
        return tuple(dict.fromkeys(file for file in found if file is not None))


class Treatment(NamedTuple):
    """How one patch is treated."""

    settle_s: float
    readings: int
    integration_s: float | None  # None: the meter decides
    dark: bool
    precision: Precision | None = None  # None: as many readings as ``readings`` states

    def step(self, name: str, block: str, patch: Patch, labels: Labels, place: str = "centre", at: At = CENTRE) -> Step:
        """A measuring step that is treated so."""
        procedure = "readings" if self.precision is None else "precision"
        how = (self.readings, self.settle_s, self.integration_s, self.dark)
        return Step(name, block, procedure, patch, labels, place, at, *how, precision=self.precision)


def treatment(plan: Plan, block: ReadingSettings, code: Code, largest: int) -> Treatment:
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
        precision=_precision(plan, block, dark=dark, fixed=f"{prefix}integration_s"),
    )


def _precision(plan: Plan, block: ReadingSettings, *, dark: bool, fixed: str) -> Precision | None:
    """What is requested of a patch; None where readings are counted. A block that counts has no precision."""
    counts = block.readings if not dark or block.dark_readings is None else block.dark_readings
    wanted = block.repeatability or (plan.repeatability if counts is None else None)
    if wanted is None:
        return None
    own = block.reading_time_at_most_s
    given = fixed in block.model_fields_set or fixed in plan.model_fields_set
    return Precision(fraction(wanted), plan.reading_time_at_most_s if own is None else own, given)


def _plain_blocks(data: Mapping[str, Any]) -> Iterator[_PlainBlock]:
    for index, block in enumerate(items_of(data.get("blocks"))):
        for kind, body in block.items() if isinstance(block, dict) else ():
            yield ("blocks", index, kind), kind, body


def _headline_wrong(data: Mapping[str, Any], kinds: Set[str]) -> Iterator[Wrong]:
    """Figures for the summary that no block of the plan can have."""
    written = items_of(data.get("headline"))
    if not written or not all(map(registry.is_known, kinds)):
        return
    from benchd.measurements.declared_figure import kinds_that_have  # few plans name a figure

    for index, name in enumerate(written):
        having = kinds_that_have(name) if isinstance(name, str) else []
        if having and kinds.isdisjoint(having):
            text = f"no block of the plan measures {show(name)}; remove it, or add a block {' or '.join(having)}"
            yield Wrong(("headline", index), text)
