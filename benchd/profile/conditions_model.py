"""Conditions of a run as a bench or a plan states them, and as the operator enters them: ``preset=standard``."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema, create_model

from benchd.errors import InputError, did_you_mean
from benchd.measuring_conditions import CONDITIONS, KINDS_OF_CONDITION, ConditionKind, Value, value_words
from benchd.profile.reading.base import ProfileModel, is_number, wrong
from benchd.profile.reading.explain import show
from benchd.profile.stated_meter import DATE_RULE, is_date

LONGEST = 80
"""Letters of a condition in words."""
NEAR_IN_WORDS = 0.85
"""How like the words of a condition (0 to 1) a name must be to be taken for them mistyped, rather than for a key."""


def condition_fault(kind: ConditionKind, value: Any) -> str:
    """What is wrong with a value, as a sentence; "" when nothing is."""
    if kind.form == "number":
        if not is_number(value) or not math.isfinite(value) or not kind.low <= value <= kind.high:
            return f"{kind.words} {show(value)}: write a number of {kind.unit}, {kind.low:g} to {kind.high:g}"
    elif kind.form == "date":
        if not is_date(str(value)):
            return f"{kind.words} {show(value)}: {DATE_RULE}"
    elif isinstance(value, str):
        if not value.strip() or len(value) > LONGEST or not value.isprintable():
            return f"{kind.words} {show(value)}: write at most {LONGEST} letters on one line"
    elif not is_number(value) or not math.isfinite(value):
        return f"{kind.words} {show(value)}: write it in words, or a number"
    return ""


def entered(texts: Iterable[str], where: str = "--condition") -> dict[str, Value]:
    """Conditions as an operator writes them, ``NAME=VALUE`` each. Raises `InputError` with what is wrong."""
    found: dict[str, Value] = {}
    for text in texts:
        name, sign, written = (part.strip() for part in text.partition("="))
        if not sign or not name or not written:
            raise InputError(f"{where} {text}: write NAME=VALUE, such as preset=standard or room_temperature_c=23")
        kind = _called(name, where)
        if kind.key in found:
            raise InputError(f"{where} {name}: it is given twice")
        value = _read(kind, written)
        if fault := condition_fault(kind, value):
            raise InputError(f"{where} {fault}")
        found[kind.key] = value
    return found


def _called(name: str, where: str) -> ConditionKind:
    """The condition of that key, or of the words that are shown for it. Raises `InputError` with the nearest ones."""
    plain = name.lower().replace("-", "_").replace(" ", "_")
    named = [kind for kind in CONDITIONS if plain in (kind.key, kind.words.lower().replace(" ", "_"))]
    if len(named) == 1:
        return named[0]
    if named:
        raise InputError(f"{where} {name}: write {' or '.join(kind.key for kind in named)}")
    by_key = did_you_mean(name, sorted(KINDS_OF_CONDITION))
    nearest = did_you_mean(name, [kind.words for kind in CONDITIONS], by_key, most=1, cutoff=NEAR_IN_WORDS)
    raise InputError(f"{where} {name}: there is no such condition; {nearest}")


def _read(kind: ConditionKind, written: str) -> Value:
    """The value of a text: a number may have its unit behind it."""
    if kind.form != "number":
        return written  # a firmware 1.10 is not 1.1
    plain = written.removesuffix(kind.unit).strip() if kind.unit else written
    try:
        number = float(plain)
    except ValueError:
        return written
    if not math.isfinite(number):
        return written
    return int(number) if number.is_integer() and "." not in plain and "e" not in plain.lower() else number


def stated_words(stated: dict[str, Value]) -> str:
    """``preset standard, room temperature 23 degC``."""
    kinds = ((KINDS_OF_CONDITION[key], value) for key, value in stated.items())
    return ", ".join(f"{kind.words} {value_words(kind, value)}" for kind, value in kinds)


class _Stated(ProfileModel):
    """Conditions that hold for a run; what nothing states is prompted for once, or stands as not recorded."""

    def stated(self) -> dict[str, Value]:
        """Those that are there, by key."""
        return {key: value for key in KINDS_OF_CONDITION if (value := getattr(self, key, None)) is not None}


def _field(kind: ConditionKind) -> Any:
    def checked(value: Any) -> Value:
        if fault := condition_fault(kind, value):
            raise wrong(fault)
        return value if is_number(value) else str(value)

    schema: dict[str, Any] = {"type": ["string", "number"], "maxLength": LONGEST}
    if kind.form == "number":
        schema = {"type": "number", "minimum": kind.low, "maximum": kind.high}
    elif kind.form == "date":
        schema = {"type": "string", "format": "date"}
    value = Annotated[Any, BeforeValidator(checked), WithJsonSchema(schema)]
    return value | None, Field(default=None, description=kind.about)


_FIELDS: dict[str, Any] = {kind.key: _field(kind) for kind in CONDITIONS}

if TYPE_CHECKING:
    MeasuringConditions = _Stated
else:
    MeasuringConditions = create_model(
        "MeasuringConditions", __base__=_Stated, __doc__=_Stated.__doc__, __module__=__name__, **_FIELDS
    )


class BenchConditions(MeasuringConditions):
    """Conditions that hold on this bench; what nothing states is prompted for once, or stands as not recorded."""

    calibration_interval_months: float | None = Field(
        default=None,
        ge=1,
        le=120,
        description="after so many months the meter is due for calibration; results then report a later one",
    )
