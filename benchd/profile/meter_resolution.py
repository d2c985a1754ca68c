"""The resolution of a meter: the step of the last digit of what it sends, in the quantity and unit that it sends."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import ProfileModel, Wrong, is_number, wrong
from benchd.profile.reading.explain import show

FORMS = (("X", "Y", "Z"), ("Y", "x", "y"), ("Y", "u", "v"))
"""What a meter may answer: XYZ; Y with CIE 1931 x, y; Y with CIE 1976 u', v'."""
LIGHT = ("Y", "X", "Z")
MAX_DIGITS = 15
FINEST, COARSEST = 1e-12, 1e4

HOW = (
    "write a step such as 0.01, {digits: 4}, or a step for each range such as "
    "[{up_to: 99.99, step: 0.01}, {step: 0.1}], in the unit that the meter sends"
)
Rule = Mapping[str, Any]
"""As it is kept in a log: {"ranges": [[largest value or null, step], ...]} or {"digits": n, "least": step or null}."""


def _rule(value: Any) -> Rule:
    if _is_step(value):
        return {"ranges": [[None, float(value)]]}
    if isinstance(value, dict) and "digits" in value and set(value) <= {"digits", "least"}:
        digits, least = value["digits"], value.get("least")
        whole = isinstance(digits, int) and not isinstance(digits, bool) and 1 <= digits <= MAX_DIGITS
        if whole and (least is None or _is_step(least)):
            return {"digits": digits, "least": None if least is None else float(least)}
    if isinstance(value, list) and value and all(isinstance(one, dict) for one in value):
        ends = [one.get("up_to", None if number + 1 == len(value) else 0) for number, one in enumerate(value)]
        limits = [math.inf if end is None else end for end in ends]
        known = all(_is_step(one.get("step")) and set(one) <= {"up_to", "step"} for one in value)
        if known and all(map(is_number, limits)) and all(low < high for low, high in pairwise([0, *limits])):
            steps = [float(one["step"]) for one in value]
            return {"ranges": [[end and float(end), step] for end, step in zip(ends, steps, strict=True)]}
    raise wrong(f"resolution {show(value)}: {HOW}")


def _is_step(value: Any) -> bool:
    return is_number(value) and FINEST <= value <= COARSEST


_STEP = {"type": "number", "exclusiveMinimum": 0}
_SHAPE = {
    "anyOf": [
        _STEP,
        {
            "type": "object",
            "properties": {"digits": {"type": "integer", "minimum": 1, "maximum": MAX_DIGITS}, "least": _STEP},
            "required": ["digits"],
            "additionalProperties": False,
        },
        {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "object",
                "properties": {"up_to": _STEP, "step": _STEP},
                "required": ["step"],
                "additionalProperties": False,
            },
        },
    ]
}
Stated = Annotated[Rule, BeforeValidator(_rule), WithJsonSchema(_SHAPE)]


class Resolution(ProfileModel):
    """The step of each quantity that the meter sends: fixed, by significant digits, or for each range.

    What is not named is as its neighbour (X and Z as Y, y as x, v as u); what no neighbour names is found from the
    meter's answers.
    """

    Y: Stated | None = Field(default=None, description=f"luminance, in the unit sent: {HOW.partition(', in the')[0]}")
    X: Stated | None = Field(default=None, description="tristimulus value X; left out: as Y")
    Z: Stated | None = Field(default=None, description="tristimulus value Z; left out: as Y")
    x: Stated | None = Field(default=None, description="chromaticity x (CIE 1931), likewise")
    y: Stated | None = Field(default=None, description="chromaticity y; left out: as x")
    u: Stated | None = Field(default=None, description="chromaticity u' (CIE 1976), likewise")
    v: Stated | None = Field(default=None, description="chromaticity v' (CIE 1976); left out: as u")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Nothing named, or quantities that no meter sends together."""
        named = set(data) & set(cls.model_fields)
        if not named:
            yield Wrong((), f"state of which quantity, such as Y: {HOW}")
        elif not any(named <= set(form) for form in FORMS):
            yield Wrong((), "the quantities must be of X, Y and Z, or of Y, x and y, or of Y, u and v")

    def form(self, sent: tuple[str, ...]) -> tuple[str, ...]:
        """The quantities that it is stated for; where it leaves that open, those that are ``sent``."""
        named = {name for name in type(self).model_fields if getattr(self, name) is not None}
        fitting = [form for form in FORMS if named <= set(form)]
        return sent if sent in fitting else fitting[0]

    def rules(self, sent: tuple[str, ...]) -> dict[str, Rule | None]:
        """The rule of each quantity of `form`, in its order; None where none is stated."""
        form = self.form(sent)
        own: dict[str, Rule | None] = {name: getattr(self, name) for name in form}
        for name in form:
            alike = [other for other in form if (other in LIGHT) == (name in LIGHT) and own[other] is not None]
            if own[name] is None and alike:
                own[name] = getattr(self, "Y" if "Y" in alike else alike[0])
        return own
