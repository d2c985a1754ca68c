"""A block of a plan: one measurement, under the key of its kind; and the keys that every kind has.

``repeatability`` is the relative standard uncertainty of the mean of a patch's readings, from the meter's repeatability
alone (k = 1). It does not include calibration or drift. The keys of each kind stand in its own folder.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, NamedTuple

from pydantic import BeforeValidator, ConfigDict, Field, WithJsonSchema

from benchd.errors import PackageError
from benchd.measurements import registry
from benchd.plan.sweep import Conditions
from benchd.profile.reading.base import (
    CheckedLazily,
    KeyRule,
    ProfileModel,
    Rule,
    Unusable,
    Wrong,
    is_number,
    items_of,
    with_keys,
    wrong,
)
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Integration, Name

FINEST_PERCENT, COARSEST_PERCENT = 0.01, 10.0
DEFAULT_AT_MOST_S = 60.0

_PERCENT = re.compile(r"([0-9]+(?:\.[0-9]+)?|\.[0-9]+)\s*%\Z")
_HOW = f"write a percentage, {FINEST_PERCENT:g} % to {COARSEST_PERCENT:g} %, such as 0.5 %"


def _repeatability(value: Any) -> str:
    if is_number(value):
        raise wrong(f"repeatability {show(value)}: state what it is a part of; {_HOW}")
    match = _PERCENT.match(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise wrong(f"repeatability {show(value)}: {_HOW}")
    if not FINEST_PERCENT <= float(match[1]) <= COARSEST_PERCENT:
        raise wrong(f"repeatability {show(value)}: use {FINEST_PERCENT:g} % to {COARSEST_PERCENT:g} %")
    return f"{float(match[1]):g} %"


_MEANING = (
    "in place of a count: every patch is read until the relative standard uncertainty of its mean, from the meter's "
    "standard deviation, is this, such as 0.5 %; when it has settled is then found from the readings too"
)
Repeatability = Annotated[
    str,
    BeforeValidator(_repeatability),
    WithJsonSchema({"type": "string", "pattern": r"^\s*([0-9]+(\.[0-9]+)?|\.[0-9]+)\s*%\s*$", "description": _MEANING}),
    Field(description=_MEANING),
]
AtMost = Annotated[
    float,
    Field(ge=1, le=3600, description="seconds that one patch may take with repeatability, settling included"),
]


def fraction(repeatability: str) -> float:
    """``0.5 %`` as 0.005."""
    return float(repeatability.rstrip("% ")) / 100.0


PRECISION_RULES = (
    *(
        Rule(
            ("repeatability", key),
            (),
            f"give repeatability or {key}, not both: with repeatability there are as many readings as it takes",
            key,
        )
        for key in ("readings", "dark_readings")
    ),
    *(
        Rule(
            ("repeatability", key),
            (),
            f"with repeatability the readings show when a patch has settled; remove '{key}'",
            key,
        )
        for key in ("settle_s", "dark_settle_s")
    ),
)
"""What contradicts a precision in one place, the plan or a block."""

Order = Annotated[
    Literal["listed", "shuffled", "there_and_back"],
    Field(
        description="order of the patches within a block; shuffled by the seed, so always alike; there_and_back: from "
        "dark to bright and back, so that steps are small"
    ),
]
Settle = Annotated[float, Field(ge=0, le=600, description="seconds to wait after a patch is on the screen")]
DarkSettle = Annotated[float, Field(ge=0, le=600, description="seconds to wait after a dark patch")]
Readings = Annotated[int, Field(ge=1, le=1000, description="readings of each patch")]
DarkReadings = Annotated[int, Field(ge=1, le=1000, description="readings of each dark patch")]
DarkUpTo = Annotated[
    float,
    Field(ge=0, le=100, description="a patch is dark when its largest code is at or below this percent"),
]


class ReadingSettings(ProfileModel):
    """How patches are treated; what is left out is as in the plan."""

    key_rules: ClassVar[tuple[KeyRule, ...]] = PRECISION_RULES

    order: Order | None = None
    settle_s: Settle | None = None
    dark_settle_s: DarkSettle | None = None
    readings: Readings | None = None
    dark_readings: DarkReadings | None = None
    dark_up_to_percent: DarkUpTo | None = None
    repeatability: Repeatability | None = None
    reading_time_at_most_s: AtMost | None = None
    integration_s: Integration | None = Field(
        default=None, description="seconds of one reading, or auto (the meter decides)"
    )
    dark_integration_s: Integration | None = Field(
        default=None, description="seconds of one reading of a dark patch, or auto"
    )


class BlockBody(ReadingSettings):
    """The keys of every kind of block."""

    name: Name | None = Field(default=None, description="name of the block, where a plan has two of a kind")
    skip: Conditions = Field(default=(), description="points of the sweep where this block is not measured")
    only: Conditions = Field(default=(), description="the only points of the sweep where this block is measured")


def twice(values: Any, key: str, what: str) -> Iterator[Wrong]:
    """Items of a list that stand in it twice."""
    for index, value in enumerate(items_of(values)):
        if value in values[:index]:
            yield Wrong((key, index), f"{what} {show(value)} is given twice; once is enough")


class EachOnce(NamedTuple):
    """A rule: no item stands twice in the list ``key``; ``what`` an item is called."""

    key: str
    what: str

    def faults(self, data: Mapping[str, Any]) -> Iterator[Wrong]:
        """Items that stand there twice."""
        return twice(data.get(self.key), self.key, self.what)


class Block(ProfileModel):
    """One measurement: exactly one of the keys."""

    model_config = ConfigDict(json_schema_extra={"minProperties": 1, "maxProperties": 1})

    @cached_property
    def kind(self) -> str:
        """Which of the keys is given."""
        return next(iter(self.model_fields_set))

    @cached_property
    def body(self) -> Any:
        """What the key holds: a `benchd.plan.blocks.BlockBody` of the kind."""
        return getattr(self, self.kind)

    @cached_property
    def name(self) -> str:
        """The name given, or the kind."""
        return self.body.name or self.kind

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """No block, or several, in one item."""
        kinds = [key for key in data if registry.is_known(key)]
        if not data:
            yield Wrong((), f"an empty block; give one of {', '.join(registry.kinds())}")
        for kind in kinds[1:]:
            yield Wrong(
                (kind,), f"'{kind}' stands in one list item with '{kinds[0]}'; begin its line with '- '", at_key=True
            )


def _model(kind: str) -> type[ProfileModel]:
    try:
        found: type[ProfileModel] = registry.part(kind, "plan").model
    except PackageError as error:
        return Unusable.because(str(error))
    return found


@lru_cache(maxsize=8)
def _block_of(kinds: tuple[str, ...]) -> type[Block]:
    """`Block` with a key for each kind; the model of a kind is imported when a plan has it."""
    return with_keys(Block, kinds, _model)


if TYPE_CHECKING:
    AnyBlock = Block
else:
    AnyBlock = Annotated[Any, CheckedLazily(lambda: _block_of(registry.kinds()))]
