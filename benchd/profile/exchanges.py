"""The questions of a dialect and what their answers mean, each with an example that is held against its pattern.

A *template* is text with places such as ``{integration_ms}`` or ``{Y:.4E}``; a *pattern* is a Python regular
expression that must match a whole answer. Both are ASCII.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache
from string import Formatter
from typing import Annotated, Any

from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from benchd.profile.reading.base import ProfileModel
from benchd.profile.stated_meter import FORMS

REGEX_SIGNS = re.compile(r"[.^$*+?{}\[\]\\|()]")


class _Filler(Formatter):
    """``str.format`` by name only: no attributes, no indices, and plain numbers stay short."""

    def get_field(self, field_name: str, args: Any, kwargs: Any) -> Any:
        if field_name not in kwargs:
            raise ValueError(f"nothing is known to put in place of {{{field_name}}}")
        return kwargs[field_name], field_name

    def format_field(self, value: Any, format_spec: str) -> Any:
        if isinstance(value, str):
            return value  # text such as "AUTO" ignores a number's format
        if format_spec:
            return format(value, format_spec)
        return f"{value:.6g}"


_FILLER = _Filler()


def fill(template: str, values: dict[str, str | float]) -> str:
    """``template`` with its ``{name}`` and ``{name:.4f}`` places filled; raises ValueError for an unknown name."""
    if "{" not in template and "}" not in template:
        return template
    return _FILLER.vformat(template, (), values)


def names_in(template: str) -> set[str]:
    """The names of the places in ``template``; raises ValueError when it can't be read."""
    return {name for _, name, _, _ in Formatter().parse(template) if name is not None}


@cache
def compiled(pattern: str) -> re.Pattern[str]:
    """The pattern, compiled; its whole answer must match, ASCII letters and digits only."""
    return re.compile(pattern, re.ASCII)


def checked_ascii(text: str) -> str:
    """``text``; raises ValueError when it is not ASCII."""
    if not text.isascii():
        raise ValueError(f"{text!r} holds signs that are not ASCII; a serial line carries ASCII only")
    return text


def checked_pattern(pattern: str, allowed: set[str]) -> str:
    """``pattern``; raises ValueError when it can't be read or names a group that is not allowed."""
    try:
        groups = set(compiled(checked_ascii(pattern)).groupindex)
    except re.error as error:
        raise ValueError(f"the pattern can't be read: {error}") from None
    if unknown := groups - allowed:
        raise ValueError(f"nothing is known about a group named {listed(unknown)}; allowed are {listed(allowed)}")
    return pattern


def checked_template(template: str, allowed: set[str]) -> str:
    """``template``; raises ValueError when it can't be read or names a place that is not allowed."""
    try:
        names = names_in(checked_ascii(template))
    except ValueError as error:
        raise ValueError(f"{template!r} can't be read: {error}; write {{{{ for a brace") from None
    if unknown := names - allowed:
        raise ValueError(f"{listed(unknown)} can't stand in braces here; allowed are {listed(allowed) or 'none'}")
    return template


def listed(names: set[str] | frozenset[str]) -> str:
    """Names as a sentence lists them."""
    return ", ".join(sorted(names, key=lambda name: (name.lower(), name)))


def checked_example(example: str | None, pattern: str | None, values: dict[str, str | float]) -> None:
    """The example, filled, must be matched by the pattern."""
    if pattern is None:
        if example is not None:
            raise ValueError("an example needs a pattern to match; give 'expect' too")
        return
    if example is None:
        raise ValueError("give an 'example' of an answer that 'expect' matches")
    try:
        answer = fill(example, values)
    except ValueError as error:
        raise ValueError(f"the example {example!r} can't be filled in: {error}") from None
    if compiled(pattern).fullmatch(answer) is None:
        raise ValueError(f"the example, filled in as {answer!r}, is not matched by 'expect': {pattern!r}")


# --- what a model says of the type of a key ----------------------------------------------------------------


def template_of(*places: str, needs: Sequence[str] = (), advice: str = "") -> AfterValidator:
    """A template with these places, or some of them; ``advice`` follows where one that it ``needs`` is missing."""

    def check(text: str) -> str:
        if missing := set(needs) - names_in(checked_template(text, set(places))):
            raise ValueError(f"{{{listed(missing)}}} is missing; {advice}")
        return text

    return AfterValidator(check)


def pattern_of(*groups: str, needs: Sequence[str] = (), advice: str = "") -> AfterValidator:
    """A pattern with these groups, or some of them; ``advice`` follows where one that it ``needs`` is missing."""

    def check(text: str) -> str:
        checked_pattern(text, set(groups))
        if missing := set(needs) - set(compiled(text).groupindex):
            raise ValueError(f"the group {listed(missing)} is missing; {advice}")
        return text

    return AfterValidator(check)


def answer_of(sample: Mapping[str, str | float], *later: str) -> AfterValidator:
    """An answer with places for ``sample`` which, filled with it, the key ``expect`` before it matches.

    One with a place in ``later`` is held against the pattern elsewhere.
    """

    def check(text: str | None, info: ValidationInfo) -> str | None:
        places = set() if text is None else names_in(checked_template(text, {*sample, *later}))
        if "expect" in info.data and not places & set(later):
            checked_example(text, info.data["expect"], {**sample})
        return text

    return AfterValidator(check)


def _checked_sentences(errors: dict[str, str]) -> dict[str, str]:
    for code, sentence in errors.items():
        checked_pattern(code, set())
        if not sentence.strip():
            raise ValueError(f"error {code!r} needs a sentence for the operator")
    return errors


ErrorSentences = Annotated[dict[str, str], AfterValidator(_checked_sentences)]
"""Pattern of an error's code -> a sentence."""


QUANTITY_GROUPS = FORMS

IDENTITY_SAMPLE: dict[str, str] = {
    "model": "MODEL-1",
    "serial": "SN-0001",
    "firmware": "1.00",
    "calibrated": "2000-01-31",
}
# XYZ of an sRGB white of 100 cd/m2, and its chromaticities (IEC 61966-2-1): any possible light would do.
QUANTITY_SAMPLE: dict[str, float] = {
    "X": 95.047,
    "Y": 100.0,
    "Z": 108.883,
    "x": 0.3127,
    "y": 0.3290,
    "u": 0.1978,
    "v": 0.4683,
    "integration_s": 0.5,
    "integration_ms": 500.0,
}
INTEGRATION_FIELDS = frozenset({"integration_s", "integration_ms"})


_KNOWN_BY = r"a meter is known by model and serial number, so write (?P<model>\S+) and (?P<serial>\S+)"


class Exchange(ProfileModel):
    """One question with a fixed answer, or with none."""

    send: Annotated[str, template_of(*INTEGRATION_FIELDS)] = Field(
        min_length=1, description="What is sent, without the line end"
    )
    expect: Annotated[str, pattern_of("unit")] | None = Field(
        default=None,
        description="Pattern of the whole answer (no answer is awaited without it); may have the group unit",
    )
    example: Annotated[str | None, answer_of({}, "unit")] = Field(
        default=None, description="An answer that 'expect' matches", validate_default=True
    )
    within_s: float = Field(default=2.0, gt=0, le=120, description="The answer comes within (seconds)")
    wait_s: float = Field(default=0.0, ge=0, le=120, description="Rest after this exchange (seconds)")


class Identify(ProfileModel):
    """How the meter identifies itself."""

    send: Annotated[str, template_of()] = Field(min_length=1, description="The question, without the line end")
    expect: Annotated[str, pattern_of(*IDENTITY_SAMPLE, needs=("model", "serial"), advice=_KNOWN_BY)] = Field(
        description="Pattern with the groups model and serial; firmware, calibrated if stated"
    )
    example: Annotated[str, answer_of(IDENTITY_SAMPLE)] = Field(
        description='An answer, such as "ID {model} {serial} {firmware}"'
    )
    within_s: float = Field(default=2.0, gt=0, le=120, description="The answer comes within (seconds)")


class AnswersWithin(ProfileModel):
    """How long a reading may take: ``fixed + per_integration * integration time``."""

    fixed: float = Field(gt=0, le=600, description="Seconds, whatever the integration time")
    per_integration: float = Field(default=0.0, ge=0, le=100, description="Seconds more per second of integration")


class Measure(ProfileModel):
    """How a reading is requested, and what the answer means."""

    set_integration: Exchange | None = Field(
        default=None, description="Sent before a reading whenever the integration time changes"
    )
    send: Annotated[str, template_of(*INTEGRATION_FIELDS)] = Field(
        min_length=1, description="The question; {integration_s} or {integration_ms} stand for the time"
    )
    expect: str = Field(
        description="Pattern with the groups X Y Z, or Y x y, or Y u v (CIE 1976); and where the meter reports "
        "them status, unit, integration_s or integration_ms, error (only where something is wrong)"
    )
    example: Annotated[str, template_of(*QUANTITY_SAMPLE, "status", "unit")] = Field(
        description='An answer, such as "{status} {Y:.4E} {x:.4f} {y:.4f}"'
    )
    example_error: Annotated[str, template_of("error", "text", "unit", "status")] | None = Field(
        default=None, description="An answer that reports an error, such as '{error}'; {text} stands for its sentence"
    )
    answers_within_s: AnswersWithin = Field(description="The answer comes within")
    ask_unit: Exchange | None = Field(
        default=None,
        description="Sent after every reading where its answer does not name the unit, so that a unit that was "
        "changed at the meter is seen; its 'expect' has the group unit",
    )

    @field_validator("expect")
    @classmethod
    def _expect(cls, value: str) -> str:
        checked_pattern(value, {*QUANTITY_SAMPLE, "status", "unit", "error"})
        groups = set(compiled(value).groupindex)
        if groups & {"X", "Y", "Z", "x", "y", "u", "v"} not in [set(names) for names in QUANTITY_GROUPS]:
            raise ValueError(
                "the groups must be X, Y and Z, or Y, x and y, or Y, u and v (CIE 1976 u', v'), and no others; "
                f"found {listed(groups) or 'none'}"
            )
        if groups >= INTEGRATION_FIELDS:
            raise ValueError("the answer has integration_s and integration_ms; one of them is enough")
        return value

    @field_validator("ask_unit")
    @classmethod
    def _ask_unit(cls, value: Exchange | None, info: ValidationInfo) -> Exchange | None:
        if value is not None and (value.expect is None or "unit" not in compiled(value.expect).groupindex):
            raise ValueError("'expect' must have the group unit, such as 'UN (?P<unit>[A-Z]+)'")
        if value is not None and "unit" in compiled(info.data.get("expect", "")).groupindex:
            raise ValueError("of no use: the answer to a reading has the unit")
        return value

    @property
    def quantities(self) -> tuple[str, str, str]:
        """Which three quantities the meter answers, one of `QUANTITY_GROUPS`."""
        groups = set(compiled(self.expect).groupindex)
        return next(names for names in QUANTITY_GROUPS if groups >= set(names))


class Integration(ProfileModel):
    """The integration times that may be requested."""

    low_s: float = Field(gt=0, description="Shortest (seconds)")
    high_s: float = Field(gt=0, le=600, description="Longest (seconds)")
    automatic_as: str | None = Field(
        default=None, description="What is sent in place of the time when the meter is to choose it itself"
    )
    automatic_at_most_s: float | None = Field(
        default=None, gt=0, le=600, description="The longest time that the meter chooses itself (seconds); else high_s"
    )
    default_s: float | None = Field(
        default=None, gt=0, description="Time sent when none is requested, where the meter can't choose (seconds)"
    )

    @model_validator(mode="after")
    def _consistent(self) -> Integration:
        if self.low_s > self.high_s:
            raise ValueError(f"low_s {self.low_s:g} is more than high_s {self.high_s:g}")
        if (self.automatic_as is None) == (self.default_s is None):
            raise ValueError("give either 'automatic_as' (the meter can choose its integration time) or 'default_s'")
        if self.default_s is not None and not self.low_s <= self.default_s <= self.high_s:
            raise ValueError(f"default_s {self.default_s:g} is outside low_s to high_s")
        return self
