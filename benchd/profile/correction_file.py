"""A correction file: the matrix that makes one meter read one display technology as a reference meter does.

Written by ``benchd correct`` and used by a bench that names it. It is bound to the meter's model and serial
number and to a display technology, and it expires; `unfit` gives in one sentence why it is not to be used.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import ProfileModel, Wrong, wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import Name
from benchd.profile.stated_uncertainty import MeterUncertainty

Triple = tuple[float, float, float]
Matrix = tuple[Triple, Triple, Triple]

_DATE = re.compile(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])\Z")
DATE_RULE = "write year-month-day, such as 2026-03-02"


def is_date(text: str) -> bool:
    """True for ``2026-03-02``."""
    return bool(_DATE.match(text))


def _date(value: Any) -> Any:
    if isinstance(value, str) and not is_date(value):
        raise wrong(f"date {show(value)}: {DATE_RULE}")
    return value


def _square(size: int) -> Any:
    def check(value: Any) -> tuple[tuple[float, ...], ...]:
        rows = value if isinstance(value, (list, tuple)) else ()
        right = len(rows) == size and all(isinstance(row, (list, tuple)) and len(row) == size for row in rows)
        if not right or any(isinstance(one, bool) or not isinstance(one, (int, float)) for row in rows for one in row):
            raise wrong(f"a matrix of {size} rows, each of {size} numbers, belongs here")
        return tuple(tuple(float(one) for one in row) for row in rows)

    row = {"type": "array", "items": {"type": "number"}, "minItems": size, "maxItems": size}
    return BeforeValidator(check), WithJsonSchema({"type": "array", "items": row, "minItems": size, "maxItems": size})


_CHECK_3, _SCHEMA_3 = _square(3)
_CHECK_9, _SCHEMA_9 = _square(9)
Square3 = Annotated[Matrix, _CHECK_3, _SCHEMA_3]
Square9 = Annotated[tuple[tuple[float, ...], ...], _CHECK_9, _SCHEMA_9]
Date = Annotated[str, BeforeValidator(_date)]


class MeterName(ProfileModel):
    """One meter, as it names itself."""

    model: str = Field(min_length=1, description="model, as the meter answers")
    serial_number: str = Field(min_length=1, description="serial number, as the meter answers")


class ColourLeft(ProfileModel):
    """What is left of one colour after the correction, and what it was before."""

    colour: str = Field(min_length=1, description="R, G, B, W, or the name of another patch")
    delta_uv: float = Field(description="distance from the reference in u'v', corrected")
    luminance_percent: float = Field(description="luminance from the reference, per cent, corrected")
    delta_uv_before: float = Field(description="the same as the meter reads it")
    luminance_percent_before: float = Field(description="the same as the meter reads it")


class CorrectionFile(ProfileModel):
    """A correction of one meter for one display technology."""

    correction: Name = Field(description="name of the correction, as the file's")
    version: Literal[1] = Field(description="version of this kind of file")
    about: str = Field(default="", description="one line of description")
    method: Literal["four-colour", "least-squares"] = Field(description="how the matrix was made")
    made: Date = Field(description="day on which the readings were taken, such as 2026-03-02")
    expires: Date = Field(description="last day on which a run may begin with it")
    technology: Name = Field(description="display technology that it holds for, as in the bench: technology: NAME")
    spectra: str = Field(default="", description="which spectra, screen and mode it was made on, and why")
    reference_meter: MeterName = Field(description="the meter whose readings are taken for true")
    reference_uncertainty: MeterUncertainty | None = Field(
        default=None, description="what is stated of the reference meter, as in its bench; it is handed on to readings"
    )
    meter: MeterName = Field(description="the meter that is corrected, and no other")
    simulated: bool = Field(default=False, description="true: a simulator took part")
    luminance_factor: float = Field(gt=0, description="factor on luminance that is part of the matrix; 1: none")
    matrix: Square3 = Field(description="corrected X, Y, Z = matrix times X, Y, Z of the meter")
    covariance: Square9 | None = Field(
        default=None, description="of the matrix's nine elements, row by row: readings and placement"
    )
    dof: int = Field(default=0, ge=0, description="degrees of freedom of the covariance")
    placement_percent: float | None = Field(
        default=None,
        ge=0,
        description="standard uncertainty of luminance from the positions of both meters, %, part of the "
        "covariance; left out: it is not, and what the bench states of placement is added",
    )
    residuals: tuple[ColourLeft, ...] = Field(default=(), description="what is left of each colour")

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """An end before the beginning, a matrix that can't be inverted, or uncertainty without degrees of freedom."""
        made, expires = data.get("made"), data.get("expires")
        if isinstance(made, str) and isinstance(expires, str) and is_date(made) and is_date(expires) and expires < made:
            yield Wrong(("expires",), f"it expires on {expires}, before it was made on {made}")
        matrix = data.get("matrix")
        try:
            flat = [float(one) for row in matrix or () for one in row]
        except (TypeError, ValueError):
            flat = []
        if len(flat) == 9 and abs(_determinant(flat)) < 1e-9:
            yield Wrong(("matrix",), "this matrix makes all colours one; it is no correction")
        if "covariance" in data and data.get("dof", 0) == 0:
            yield Wrong(("covariance",), "a covariance needs its degrees of freedom: dof: NUMBER", at_key=True)

    @property
    def luminance(self) -> Literal["reference", "own"]:
        """Whose luminance the corrected meter reads: the reference meter's, or its own."""
        return "own" if self.method == "four-colour" and self.luminance_factor == 1.0 else "reference"

    def unfit(self, *, model: str, serial_number: str) -> str:
        """Why it must not correct the meter with this model and serial number; empty when it may."""
        own = self.meter
        if (own.model, own.serial_number) == (model, serial_number):
            return ""
        return (
            f"correction {self.correction} is for meter {own.model} {own.serial_number} and the meter here is "
            f"{model} {serial_number}; take correction: out of the bench, or make one with: benchd correct"
        )

    def unfit_for(self, *, technology: str | None, today: str) -> str:
        """Why a run on a display of ``technology`` must not begin with it ``today``; empty when it may."""
        if technology != self.technology:
            named = technology or "of no named technology"
            return (
                f"correction {self.correction} is for displays of technology {self.technology} and the bench's is "
                f"{named}; name another correction, or make one with: benchd correct"
            )
        if today > self.expires:
            return f"correction {self.correction} expired on {self.expires}; make it anew with: benchd correct"
        return ""

    def head(self, digest: str) -> dict[str, Any]:
        """As a log's first record keeps it and analysis reads it; ``digest``: SHA-256 (hex) of the file."""
        stated = self.reference_uncertainty
        return {
            "name": self.correction,
            "digest": digest,
            "method": self.method,
            "made": self.made,
            "expires": self.expires,
            "technology": self.technology,
            "reference_meter": self.reference_meter.model_dump(),
            "reference_uncertainty": stated.normalised() if stated else None,
            "meter": self.meter.model_dump(),
            "luminance_factor": self.luminance_factor,
            "luminance": self.luminance,
            "placement_percent": self.placement_percent,
            "simulated": self.simulated,
            "matrix": [list(row) for row in self.matrix],
            "covariance": None if self.covariance is None else [list(row) for row in self.covariance],
            "dof": self.dof,
        }


def _determinant(m: list[float]) -> float:
    return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) + m[2] * (m[3] * m[7] - m[4] * m[6])


def text_of(file: CorrectionFile) -> str:
    """The file as YAML that `benchd.profile.profile_store.load_correction` reads back to the last bit."""
    lines = [
        "# yaml-language-server: $schema=../schema/correction.schema.json",
        *(["# SIMULATED: made from readings that a simulator took part in."] if file.simulated else []),
        f"correction: {file.correction}",
        f"version: {file.version}",
        *([f"about: {_quoted(file.about)}"] if file.about else []),
        f"method: {file.method}",
        f"made: {_quoted(file.made)}",
        f"expires: {_quoted(file.expires)}",
        f"technology: {file.technology}",
        *([f"spectra: {_quoted(file.spectra)}"] if file.spectra else []),
        f"reference_meter: {_which(file.reference_meter)}",
        *_stated(file.reference_uncertainty),
        f"meter: {_which(file.meter)}",
        f"simulated: {'true' if file.simulated else 'false'}",
        f"luminance_factor: {file.luminance_factor!r}",
        "matrix:",
        *(f"  - [{', '.join(map(_number, row))}]" for row in file.matrix),
    ]
    if file.covariance is not None:
        lines += ["covariance:", *(f"  - [{', '.join(map(_number, row))}]" for row in file.covariance)]
        lines += [f"dof: {file.dof}"]
    if file.placement_percent is not None:
        lines += [f"placement_percent: {_number(file.placement_percent)}"]
    if file.residuals:
        lines.append("residuals:")
    for one in file.residuals:
        figures = ", ".join(
            f"{key}: {_number(getattr(one, key))}"
            for key in ("delta_uv", "luminance_percent", "delta_uv_before", "luminance_percent_before")
        )
        lines.append(f"  - {{colour: {_quoted(one.colour)}, {figures}}}")
    return "\n".join(lines) + "\n"


def _stated(uncertainty: MeterUncertainty | None) -> list[str]:
    if uncertainty is None:
        return []
    given = {key: value for key, value in uncertainty.normalised().items() if value is not None}
    lines = (f"  {key}: {_quoted(value) if isinstance(value, str) else _number(value)}" for key, value in given.items())
    return ["reference_uncertainty:", *lines]


def _which(meter: MeterName) -> str:
    return f"{{model: {_quoted(meter.model)}, serial_number: {_quoted(meter.serial_number)}}}"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _number(value: float) -> str:
    """All digits, without an exponent, as profiles want it; thirty places hold every covariance that matters."""
    text = f"{Decimal(repr(float(value))):.30f}".rstrip("0")
    return text + "0" if text.endswith(".") else text
