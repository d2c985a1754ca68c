"""What is stated of a meter: its range, the resolution of what it sends, and its uncertainty."""

from __future__ import annotations

import calendar
import math
import re
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import ProfileModel, Wrong, is_number, numbers_of, wrong
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
    """The step of each quantity that the meter sends, in its unit: fixed, by significant digits, or for each range.

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


def _luminance_range(value: Any) -> tuple[float, ...]:
    found = numbers_of(value, 2)
    if found is None or not 0 <= found[0] < found[1]:
        raise wrong(f"range {show(value)}: write [lowest, highest] in cd/m2, such as [0.005, 3000]")
    return found


LuminanceRange = Annotated[
    tuple[float, float],
    BeforeValidator(_luminance_range),
    WithJsonSchema({"type": "array", "items": {"type": "number", "minimum": 0}, "minItems": 2, "maxItems": 2}),
]


DATE_RULE = "write year-month-day, such as 2026-03-02"


def is_date(text: str) -> bool:
    """True for a day of the calendar, such as ``2026-03-02``."""
    match = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)", text)
    year, month, day = map(int, match.groups()) if match else (0, 0, 0)
    return bool(year) and 1 <= month <= 12 and 1 <= day <= calendar.monthrange(year, month)[1]


def _date(value: Any) -> str:
    if not is_date(str(value)):
        raise wrong(f"date {show(value)}: {DATE_RULE}")
    return str(value)


Date = Annotated[str, BeforeValidator(_date), WithJsonSchema({"type": "string", "format": "date"})]


class MeterUncertainty(ProfileModel):
    """Each figure as it stands on the certificate or data sheet: plus or minus so much, at the coverage factor k.

    A figure that is left out counts as zero; the section left out: no uncertainty of the meter is stated at all, and
    results report it.
    """

    k: float = Field(default=2.0, ge=1, le=4, description="coverage factor of all figures here; 1: they are standard")
    calibration_percent: float = Field(default=0.0, ge=0, le=50, description="luminance scale, % of the reading")
    chromaticity_xy: float = Field(default=0.0, ge=0, le=0.1, description="x and y of a white, such as 0.002")
    linearity_percent: float = Field(
        default=0.0, ge=0, le=50, description="change of the luminance scale with level, % of the reading"
    )
    zero_cd_m2: float = Field(default=0.0, ge=0, le=10, description="what it reads with its sensor capped, cd/m2")
    drift_percent_per_year: float = Field(
        default=0.0, ge=0, le=50, description="change of the scale in a year since its calibration, %"
    )
    placement_percent: float = Field(
        default=0.0, ge=0, le=50, description="luminance when the meter is taken away and put back, %"
    )
    instrument: Literal["filter", "spectroradiometer"] = Field(
        default="filter",
        description="kind of meter. The scale and colour errors of a filter meter are the same within one technology "
        "and one correction only; those of a spectroradiometer for all displays",
    )
    calibrated: Date | None = Field(
        default=None, description="day of the last calibration, where the meter does not report it, such as 2026-03-02"
    )

    def normalised(self) -> Mapping[str, Any]:
        """For the log: every key, so that a later benchd with other defaults reads the same."""
        return self.model_dump(mode="json")
