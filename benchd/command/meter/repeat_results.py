"""The logs of a repetition become what is kept of the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.bench_repeatability import Matrix, precision, repeatability_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.errors import InputError
from benchd.profile.correction_file import MeterName
from benchd.profile.repeatability_file import RepeatabilityFile, RepeatedFigure
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Body


def repeated(logs: Sequence[Path], bench: str) -> RepeatabilityFile:
    """Repeatability and reproducibility from the logs of all runs, in their order. Raises `InputError`."""
    values: dict[int, list[dict[str, Quantity]]] = {}  # placement -> runs
    lights: dict[int, list[list[StepData]]] = {}
    head: Body = {}
    made, simulated = "", False
    for log in logs:
        survey = collect(LogFile(log).records())
        assert survey.started is not None  # the run is complete
        if head and survey.started.body["meter"]["serial_number"] != head["meter"]["serial_number"]:
            raise InputError(
                f"{log} was read with another meter than {logs[0]}; repeat with one meter in another folder"
            )
        head = survey.started.body
        made, simulated = survey.started.wall[:10], simulated or survey.simulated
        placement = head["repeat"]["placement"]
        found = headlines(analyse(LogFile(log).records()))
        values.setdefault(placement, []).append({one.name: one.quantity for one in found})
        lights.setdefault(placement, []).append([one for one in survey.measured.values() if one.block])
    try:
        scatter = repeatability_of(list(lights.values()))
    except ValueError as error:
        raise InputError(f"the plan gives no repeatability of the bench: {error}") from None
    return RepeatabilityFile(
        bench=bench,
        version=1,
        made=made,
        meter=MeterName(model=head["meter"]["model"], serial_number=head["meter"]["serial_number"]),
        simulated=simulated,
        plan=head["plan"]["name"],
        runs=len(logs),
        placements=len(values),
        between_runs_percent=_percent(scatter.between_runs),
        placement_percent=_percent(scatter.placement),
        between_runs=scatter.between_runs,
        between_runs_dof=scatter.between_runs_dof,
        placement=scatter.placement,
        placement_dof=scatter.placement_dof,
        figures=tuple(_figures(list(values.values()))),
    )


def _percent(matrix: Matrix | None) -> float | None:
    return None if matrix is None else 100.0 * math.sqrt(matrix[1][1])


def _figures(groups: Sequence[Sequence[dict[str, Quantity]]]) -> list[RepeatedFigure]:
    """Only figures that are a plain value in every run."""
    runs = [run for group in groups for run in group]
    found = []
    for name, first in runs[0].items():
        if not all(name in run and run[name].plain for run in runs):
            continue
        one = precision([[run[name].value or 0.0 for run in group] for group in groups])
        found.append(
            RepeatedFigure(
                name=name,
                unit=first.unit,
                mean=one.mean,
                s_r=one.s_r,
                limit_r=one.limit_r,
                s_l=one.s_l,
                s_R=one.s_R,
                limit_R=one.limit_R,
            )
        )
    return found
