"""Paired readings for a correction: from two logs, or from a CSV file."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from benchd.analysis.log.log_data import LogData, collect
from benchd.analysis.meter_model.correction import Pair, Placement, Triple, named, xyz_from
from benchd.analysis.meter_model.paired import light_of_readings, lights_of, placement_of
from benchd.clock import wall_label
from benchd.errors import InputError
from benchd.profile import profile_store as library
from benchd.profile.correction_file import MeterName
from benchd.profile.reading.csv_table import separator_of
from benchd.profile.stated_uncertainty import MeterUncertainty
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Body

SIDES = ("reference", "meter")
CSV_RULE = (
    "colour, then X, Y, Z of both meters in cd/m2: reference_X, reference_Y, reference_Z, meter_X, meter_Y, meter_Z; "
    "or x, y, Y: reference_x, reference_y, reference_Y, meter_x, meter_y, meter_Y"
)


@dataclass(frozen=True, slots=True)
class MeterReadings:
    """What both meters read, and of whom and when it is."""

    pairs: tuple[Pair, ...]
    reference_meter: MeterName
    meter: MeterName
    made: str  # day of the later sitting
    simulated: bool
    reference_uncertainty: MeterUncertainty | None = None
    technology: str | None = None
    source: str = ""  # where the readings are, for the file
    placements: tuple[Placement, Placement] | None = None  # of both meters, where their benches are known


def from_logs(reference: Path, field: Path) -> MeterReadings:
    """The colours that both logs have read. Raises `InputError` when they can't be of one display and two meters."""
    surveys = {path: collect(LogFile(path).records()) for path in (reference, field)}
    heads = {path: _head(path, survey) for path, survey in surveys.items()}
    first, second = (heads[path] for path in (reference, field))
    for what in ("sample", "screen"):
        one, other = (head["screen"]["name"] if what == "screen" else head["sample"] for head in (first, second))
        if one != other:
            raise InputError(
                f"{reference} is of {what} {one} and {field} of {what} {other}; both meters must read one display"
            )
    meters = [MeterName(model=h["meter"]["model"], serial_number=h["meter"]["serial_number"]) for h in (first, second)]
    if meters[0] == meters[1]:
        raise InputError(
            f"both logs are of meter {meters[0].model} {meters[0].serial_number}; one must be the reference's"
        )
    stood = placement_of(first), placement_of(second)
    return MeterReadings(
        named(lights_of(surveys[reference]), lights_of(surveys[field], uncorrected=True)),
        meters[0],
        meters[1],
        _day(surveys[field]),
        any(survey.simulated for survey in surveys.values()),
        _stated(first),
        _technology(second),
        f"logs {reference.name} and {field.name}",
        None if stood[0] is None or stood[1] is None else (stood[0], stood[1]),
    )


def from_csv(path: Path, reference_meter: MeterName, meter: MeterName) -> MeterReadings:
    """One row a pair of readings; several of a colour give its standard deviation.

    Raises `InputError` with file and line.
    """
    text = library.read_text(path)
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    skipped = len(text.splitlines()) - len(lines)
    separator = separator_of("\n".join(lines))
    table = csv.DictReader(io.StringIO("\n".join(lines)), delimiter=separator)
    columns = _columns(path, [name.strip() for name in table.fieldnames or ()])
    table.fieldnames = [name.strip() for name in table.fieldnames or ()]
    readings: dict[str, list[tuple[Triple, Triple]]] = {}
    for row in table:
        where = f"{path}:{table.line_num + skipped}"
        name = (row.get("colour") or "").strip()
        if not name or not name.isprintable():
            raise InputError(f"{where}: the row names no colour; write R, G, B, W or a name of your own")
        if separator != ",":  # a spreadsheet that writes decimal commas
            row = {key: value.replace(",", ".", 1) if value else value for key, value in row.items() if key}
        first, second = (_xyz(where, [row.get(column) for column in columns[side]], columns[side]) for side in SIDES)
        readings.setdefault(name, []).append((first, second))
    pairs = [
        Pair(name, *(light_of_readings([pair[side] for pair in several]) for side in (0, 1)))
        for name, several in readings.items()
    ]
    return MeterReadings(tuple(pairs), reference_meter, meter, wall_label()[:10], False, source=f"file {path.name}")


def _columns(path: Path, names: Sequence[str]) -> dict[str, list[str]]:
    for letters in (("X", "Y", "Z"), ("x", "y", "Y")):
        found = {side: [f"{side}_{letter}" for letter in letters] for side in SIDES}
        if {"colour", *found["reference"], *found["meter"]} <= set(names):
            return found
    raise InputError(f"{path}:1: its columns are {', '.join(names) or 'none'}; needed are {CSV_RULE}")


def _xyz(where: str, cells: Sequence[str | None], columns: Sequence[str]) -> Triple:
    values = []
    for cell, column in zip(cells, columns, strict=True):
        try:
            values.append(float(cell or ""))
        except ValueError:
            raise InputError(f"{where}: {column} is {cell or ''!r}; a number belongs here") from None
        if not math.isfinite(values[-1]):
            raise InputError(f"{where}: {column} is {cell!r}; a number belongs here")
    first, second, third = values
    if columns[0].endswith("_X"):
        return first, second, third
    if not second > 0.0:
        raise InputError(f"{where}: {columns[1]} is not above zero, so this is no chromaticity")
    return xyz_from(first, second, third)


def _head(path: Path, survey: LogData) -> Body:
    if survey.started is None:
        raise InputError(f"{path} has no 'started' record: nothing was measured, or its head was cut off")
    return survey.started.body


def _day(survey: LogData) -> str:
    assert survey.started is not None
    return survey.started.wall[:10]


def _stated(head: Body) -> MeterUncertainty | None:
    """What the reference's bench states of its meter, with the day of its calibration where the meter reports it."""
    stated = head.get("uncertainty")
    if not stated:
        return None
    calibrated = stated.get("calibrated") or head["meter"].get("calibrated")
    figures = {key: value for key, value in stated.items() if key != "calibrated"}
    return MeterUncertainty.model_validate({**figures, **({"calibrated": calibrated} if calibrated else {})})


def _technology(head: Body) -> str | None:
    document = (head.get("profiles") or {}).get("bench")
    return library.load_logged_bench(document["text"], document["file"]).technology if document else None
