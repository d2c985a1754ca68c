"""What `benchd repeat` found on a bench, kept for later runs: readable, dated, and bound to the meter.

It stands in the user's data folder, one file a bench. A run whose meter is another does not use it.
"""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from benchd.profile.correction_file import Date, MeterName, Square3
from benchd.profile.reading.base import ProfileModel
from benchd.profile.reading.values import Name
from benchd.user_folders import data_folder


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

    def head(self) -> dict[str, Any]:
        """As a log's first record keeps it and analysis reads it."""
        kept = (
            "made",
            "runs",
            "placements",
            "simulated",
            "between_runs",
            "between_runs_dof",
            "placement",
            "placement_dof",
        )
        return {key: value for key, value in self.model_dump(mode="json").items() if key in kept}


def repeatability_path(bench: str) -> Path:
    """Where the file of ``bench`` is kept: ``benchd`` in the user's data folder."""
    return data_folder() / f"{bench}.repeatability.yaml"


def text_of(file: RepeatabilityFile) -> str:
    """The file as YAML that `benchd.profile.profile_store.load_repeatability` reads back."""
    lines = [
        f"# Made by `benchd repeat`{' on a SIMULATED bench' if file.simulated else ''}; later runs with this meter",
        "# count it in their uncertainty. Remove the file, and they do not.",
        f"bench: {file.bench}",
        f"version: {file.version}",
        f"made: {json.dumps(file.made)}",
        f"meter: {{model: {json.dumps(file.meter.model)}, serial_number: {json.dumps(file.meter.serial_number)}}}",
        f"simulated: {'true' if file.simulated else 'false'}",
        f"plan: {file.plan}",
        f"runs: {file.runs}",
        f"placements: {file.placements}",
    ]
    for key in ("between_runs", "placement"):
        matrix, percent = getattr(file, key), getattr(file, f"{key}_percent")
        if matrix is not None:
            lines += [f"{key}_percent: {_number(percent)}", f"{key}_dof: {getattr(file, f'{key}_dof')}", f"{key}:"]
            lines += [f"  - [{', '.join(map(_number, row))}]" for row in matrix]
    if file.figures:
        lines.append("figures:")
    for figure in file.figures:
        given = [
            f"{key}: {_number(value)}"
            for key in ("mean", "s_r", "limit_r", "s_l", "s_R", "limit_R")
            if (value := getattr(figure, key)) is not None
        ]
        names = f"name: {json.dumps(figure.name)}, unit: {json.dumps(figure.unit)}"
        lines.append(f"  - {{{', '.join([names, *given])}}}")
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    """Six digits, without an exponent: a standard deviation is never known better."""
    text = f"{Decimal(f'{value:.6g}'):.20f}".rstrip("0")
    return text + "0" if text.endswith(".") else text
