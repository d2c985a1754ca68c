"""Files that benchd makes, each bound to a meter: a correction of the meter, and the repeatability of a bench.

A correction is the matrix that makes one meter read one display technology as a reference meter does. Written by
``benchd correct`` and used by a bench that names it; it is bound to the meter's model and serial number and to a
display technology, and it expires: `unfit` gives in one sentence why it is not to be used.

What ``benchd repeat`` found stands in the user's data folder, one file a bench. A run whose meter is another does not
use it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from benchd.profile.reading.base import ProfileModel, Wrong, numbers_of, wrong
from benchd.profile.reading.strict_yaml import yaml_text
from benchd.profile.reading.values import Name
from benchd.profile.stated_meter import Date, MeterUncertainty, is_date
from benchd.user_folders import data_folder

Triple = tuple[float, float, float]
Matrix = tuple[Triple, Triple, Triple]


def _square(size: int) -> Any:
    def check(value: Any) -> tuple[tuple[float, ...], ...]:
        rows = [numbers_of(row, size) for row in value] if isinstance(value, (list, tuple)) else []
        found = tuple(row for row in rows if row is not None)
        if not len(found) == len(rows) == size:
            raise wrong(f"a matrix of {size} rows, each of {size} numbers, belongs here")
        return found

    row = {"type": "array", "items": {"type": "number"}, "minItems": size, "maxItems": size}
    return BeforeValidator(check), WithJsonSchema({"type": "array", "items": row, "minItems": size, "maxItems": size})


_CHECK_3, _SCHEMA_3 = _square(3)
_CHECK_9, _SCHEMA_9 = _square(9)
Square3 = Annotated[Matrix, _CHECK_3, _SCHEMA_3]
Square9 = Annotated[tuple[tuple[float, ...], ...], _CHECK_9, _SCHEMA_9]


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
        rows = [numbers_of(row, 3) for row in matrix] if isinstance(matrix, (list, tuple)) else []
        flat = [one for row in rows for one in row or ()]
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

    def as_yaml(self) -> str:
        """The file's text, which `benchd.profile.profile_store.load_correction` reads back to the last bit."""
        notice = "# SIMULATED: made from readings that a simulator took part in.\n" if self.simulated else ""
        every = self.model_dump(mode="json", exclude_none=True)
        said = {key: value for key, value in every.items() if value not in ("", [])}
        return f"# yaml-language-server: $schema=../schema/correction.schema.json\n{notice}{yaml_text(said)}"

    def head(self, digest: str) -> dict[str, Any]:
        """As a log's first record keeps it and analysis reads it; ``digest``: SHA-256 (hex) of the file."""
        kept = {"method", "made", "expires", "technology", "reference_meter", "reference_uncertainty", "meter"}
        kept |= {"luminance_factor", "placement_percent", "simulated", "matrix", "covariance", "dof"}
        said = self.model_dump(mode="json", include=kept)
        return {"name": self.correction, "digest": digest, **said, "luminance": self.luminance}


def _determinant(m: list[float]) -> float:
    return m[0] * (m[4] * m[8] - m[5] * m[7]) - m[1] * (m[3] * m[8] - m[5] * m[6]) + m[2] * (m[3] * m[7] - m[4] * m[6])


class RepeatedFigure(ProfileModel):
    """One figure over all runs, in its unit; figures that the runs do not give are left out."""

    name: str = Field(min_length=1, description="plain name of the figure, such as white luminance")
    unit: str = Field(description="its unit")
    mean: float = Field(description="mean over all runs")
    s_r: float | None = Field(default=None, ge=0, description="repeatability standard deviation")
    limit_r: float | None = Field(default=None, ge=0, description="repeatability limit, 2.8 s_r")
    s_l: float | None = Field(default=None, ge=0, description="between-placement standard deviation")
    s_R: float | None = Field(default=None, ge=0, description="reproducibility standard deviation")
    limit_R: float | None = Field(default=None, ge=0, description="reproducibility limit, 2.8 s_R")


class RepeatabilityFile(ProfileModel):
    """Repeatability and reproducibility of a bench, in the terms of ISO 5725."""

    bench: Name = Field(description="name of the bench")
    version: Literal[1] = Field(description="version of this kind of file")
    made: Date = Field(description="day of the last run, such as 2026-03-02")
    meter: MeterName = Field(description="the meter that it holds for, and no other")
    simulated: bool = Field(default=False, description="true: a simulator took part")
    plan: Name = Field(description="the plan that was repeated")
    runs: int = Field(ge=2, le=1000, description="how many runs")
    placements: int = Field(ge=1, le=1000, description="how often the meter was put on anew, the first time included")
    between_runs_percent: float | None = Field(
        default=None, ge=0, description="of luminance, beyond the repeatability of readings: for the eye"
    )
    placement_percent: float | None = Field(default=None, ge=0, description="of luminance: for the eye")
    between_runs: Square3 | None = Field(
        default=None, description="covariance of relative changes of X, Y, Z between runs of one placement"
    )
    between_runs_dof: int = Field(default=0, ge=0, description="its degrees of freedom")
    placement: Square3 | None = Field(
        default=None, description="covariance of relative changes of X, Y, Z that putting the meter on anew adds"
    )
    placement_dof: int = Field(default=0, ge=0, description="its degrees of freedom")
    figures: tuple[RepeatedFigure, ...] = Field(default=(), description="the figures of the plan one by one")

    def is_for(self, *, model: str, serial_number: str) -> bool:
        """True when it was found with this meter."""
        return (self.meter.model, self.meter.serial_number) == (model, serial_number)

    def as_yaml(self) -> str:
        """The file's text. Six digits: a standard deviation is never known better."""
        where = " on a SIMULATED bench" if self.simulated else ""
        said = json.loads(self.model_dump_json(exclude_none=True), parse_float=lambda text: float(f"{float(text):.6g}"))
        return (
            f"# Made by `benchd repeat`{where}; later runs with this meter\n"
            f"# count it in their uncertainty. Remove the file, and they do not.\n{yaml_text(said)}"
        )

    def head(self) -> dict[str, Any]:
        """As a log's first record keeps it and analysis reads it."""
        kept = {"made", "runs", "placements", "simulated"}
        return self.model_dump(
            mode="json", include=kept | {"between_runs", "between_runs_dof", "placement", "placement_dof"}
        )


def repeatability_path(bench: str) -> Path:
    """Where the file of ``bench`` is kept: ``benchd`` in the user's data folder."""
    return data_folder() / f"{bench}.repeatability.yaml"
