"""``benchd correct``: two meters read one display, and the correction of one of them becomes a file."""

from __future__ import annotations

import re
import shlex
from argparse import Namespace
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchd.analysis.log.log_data import LogData, collect
from benchd.analysis.meter_model.correction import Fit, Pair, Placement, fit, named, xyz_from
from benchd.analysis.meter_model.paired import light_of_readings, lights_of, placement_of
from benchd.analysis.uncertainty.sources import Triple
from benchd.clock import day_after, wall_label
from benchd.command.log_names import as_typed, default_log
from benchd.command.measure.live import no_operator, wait_for_operator
from benchd.command.measure.run import run_job
from benchd.command.messages import say
from benchd.command.output import fresh, one_line, print_as
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.profile import profile_store as library
from benchd.profile.made_files import ColourLeft, CorrectionFile, MeterName
from benchd.profile.reading.csv_table import csv_lines, separator_of
from benchd.profile.reading.values import name_fault
from benchd.profile.stated_meter import DATE_RULE, MeterUncertainty, is_date
from benchd.report.terminal.meter_text import correction_text
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Body, Record

PLAN = "four-colours"
VALID_DAYS = 365


def main(arguments: Namespace) -> Exit:
    """Read (or load) the readings of both meters, fit, show and keep the file; exit code 3 when a run paused."""
    out = _out(arguments)
    _check_words(arguments)
    if len(arguments.readings) == 1:
        paired = _from_csv(arguments)
    elif arguments.readings:
        paired = from_logs(*map(Path, arguments.readings))
    else:
        taken = _take_readings(arguments)
        if isinstance(taken, Exit):
            return taken
        paired = taken
    made = fit(paired.pairs, arguments.method, luminance=not arguments.keep_luminance, placements=paired.placements)
    file = _file(arguments, paired, made)
    text = file.as_yaml()
    library.load_correction(text, str(out))  # what is kept must be what a bench can read
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(text, encoding="utf-8")
    kept = {"file": str(out), **file.model_dump(mode="json")}
    print_as(arguments.format, lambda: kept, lambda: correction_text(file, made))
    name = out.stem if out.parent == Path("profiles/corrections") else str(out)
    use = f"technology: {file.technology} and instruments: {{meter: {{…, correction: {name}}}}}"
    say(f"Kept in {out}. A bench uses it with: {use}")
    return Exit.COMPLETE


def _out(arguments: Namespace) -> Path:
    name = arguments.name
    if fault := name_fault(name):
        raise InputError(f"the correction's {fault}, such as plover-white-led; --output names the file")
    return fresh(Path(arguments.output) if arguments.output else Path("profiles", "corrections", f"{name}.yaml"))


def _check_words(arguments: Namespace) -> None:
    ways = [bool(arguments.readings), bool(arguments.bench or arguments.reference)]
    if sum(ways) != 1 or bool(arguments.bench) != bool(arguments.reference) or len(arguments.readings) > 2:
        raise InputError(
            "give one source of the readings: --reference BENCH and --bench BENCH to take them now, two logs "
            "(REFERENCE.log METER.log), or one CSV file"
        )
    if arguments.expires and not is_date(arguments.expires):
        raise InputError(f"--expires {arguments.expires}: {DATE_RULE}")
    for option in ("spectra", "about", "sample"):
        one_line(f"--{option}", getattr(arguments, option))


def _from_csv(arguments: Namespace) -> MeterReadings:

    which = []
    for option in ("reference_meter", "meter"):
        words = getattr(arguments, option)
        if not words:
            raise InputError(
                f"a CSV file does not name the meters of its readings: give --{option.replace('_', '-')} MODEL SERIAL"
            )
        which.append(MeterName(model=words[0], serial_number=words[1]))
    if not arguments.technology:
        raise InputError("name the display technology of the readings: --technology NAME")
    return from_csv(Path(arguments.readings[0]), *which)


def _take_readings(arguments: Namespace) -> MeterReadings | Exit:
    """A run with each meter, the reference meter first: the same plan, as any run."""
    # The field meter is to be read as it is: what corrected it before is put aside.
    jobs = bench_job(arguments.reference), bench_job(arguments.bench, corrected=False)
    plan = plan_job(PLAN)
    roles = ("reference", "field")
    logs = [default_log("", f"correct-{arguments.name}-{role}") for role in roles]
    again = f"benchd correct {arguments.name} {as_typed(logs[0])} {as_typed(logs[1])}"
    for role, name, job, log in zip(roles, (arguments.reference, arguments.bench), jobs, logs, strict=True):
        if job.bench.manual_moves:
            question = (
                f"Put the {role} meter (bench {name}) in the middle of the screen, where the other one will be too"
            )
            if no_operator() or not wait_for_operator(question):
                sample = f" --sample {shlex.quote(arguments.sample)}" if arguments.sample else ""
                say(f"{question}; then: benchd run {PLAN} --bench {name}{sample} --log {as_typed(log)}")
                say(f"When both have been read: {again}")
                return Exit.PAUSED
        code = run_job(plan, job, log, arguments.sample, f"{role} meter for correction {arguments.name}")
        if code is not Exit.COMPLETE:
            say(f"When both have been read: {again}")
            return code
    return from_logs(*logs)


def _file(arguments: Namespace, paired: MeterReadings, made: Fit) -> CorrectionFile:
    technology = arguments.technology or paired.technology
    if technology is None:
        raise InputError("name the display technology: --technology NAME, or technology: NAME in the bench")
    expires = arguments.expires or day_after(paired.made, VALID_DAYS)
    data = {
        "correction": arguments.name,
        "version": 1,
        "about": arguments.about,
        "method": made.method,
        "made": paired.made,
        "expires": expires,
        "technology": technology,
        "spectra": arguments.spectra or f"made from {paired.source}",
        "reference_meter": paired.reference_meter,
        "reference_uncertainty": paired.reference_uncertainty,
        "meter": paired.meter,
        "simulated": paired.simulated,
        "luminance_factor": made.luminance_factor,
        "matrix": [list(row) for row in made.matrix],
        "dof": made.dof,
        "residuals": tuple(
            ColourLeft(
                colour=one.name,
                delta_uv=round(one.delta_uv, 6),
                luminance_percent=round(one.luminance_percent, 4),
                delta_uv_before=round(one.delta_uv_before, 6),
                luminance_percent_before=round(one.luminance_percent_before, 4),
            )
            for one in made.residuals
        ),
    }
    if made.placement_percent is not None:
        data["placement_percent"] = made.placement_percent
    if made.covariance is not None:
        data["covariance"] = [list(row) for row in made.covariance]
    return CorrectionFile.model_validate(data)


SIDES = ("reference", "meter")
NUMBER = re.compile(r"[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]{1,2})?\Z")
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
    made: str  # day of the later readings
    simulated: bool
    reference_uncertainty: MeterUncertainty | None = None
    technology: str | None = None
    source: str = ""  # where the readings are, for the file
    placements: tuple[Placement, Placement] | None = None  # of both meters, where their benches are known


def from_logs(reference: Path, field: Path) -> MeterReadings:
    """The colours that both logs have read. Raises `InputError` when they can't be of one display and two meters."""
    surveys = [collect(LogFile(path).records()) for path in (reference, field)]
    starts = [_started(path, log_data) for path, log_data in zip((reference, field), surveys, strict=True)]
    first, second = (one.body for one in starts)
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
        named(lights_of(surveys[0]), lights_of(surveys[1], uncorrected=True)),
        meters[0],
        meters[1],
        starts[1].wall[:10],
        any(log_data.simulated for log_data in surveys),
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
    separator = separator_of(text)
    lines = csv_lines(text, separator)
    names = [cell.text for cell in next(lines, (1, []))[1]]
    columns = _columns(path, names)
    readings: dict[str, list[tuple[Triple, Triple]]] = {}
    for number, cells in lines:
        where, row = f"{path}:{number}", dict(zip(names, (cell.text for cell in cells), strict=False))
        name = row.get("colour", "")
        if not name or not name.isprintable():
            raise InputError(f"{where}: the row names no colour; write R, G, B, W or a name of your own")
        if separator != ",":  # a spreadsheet that writes decimal commas
            row = {key: value.replace(",", ".", 1) for key, value in row.items()}
        first, second = (_xyz(where, row, columns[side]) for side in SIDES)
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


def _xyz(where: str, row: Mapping[str, str], columns: Sequence[str]) -> Triple:
    for column in columns:
        if not NUMBER.match(row.get(column, "")):
            raise InputError(f"{where}: {column} is {row.get(column, '')!r}; a number belongs here")
    first, second, third = (float(row[column]) for column in columns)
    if columns[0].endswith("_X"):
        return first, second, third
    if not second > 0.0:
        raise InputError(f"{where}: {columns[1]} is not above zero, so this is no chromaticity")
    return xyz_from(first, second, third)


def _started(path: Path, log_data: LogData) -> Record:
    if log_data.started is None:
        raise InputError(f"{path} has no 'started' record: nothing was measured, or its head was cut off")
    return log_data.started


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
