"""``benchd correct``: two meters read one display, and the correction of one of them becomes a file."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from benchd.clock import day_after
from benchd.command.measure.new_log import default_log, fresh, one_line
from benchd.command.messages import say
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.profile import profile_store as library
from benchd.profile.correction_file import DATE_RULE, ColourLeft, CorrectionFile, MeterName, is_date, text_of

if TYPE_CHECKING:
    from benchd.analysis.meter_model.correction import Fit
    from benchd.command.meter.correct_readings import MeterReadings

PLAN = "four-colours"
VALID_DAYS = 365


def main(arguments: Namespace) -> Exit:
    """Read (or load) the readings of both meters, fit, show and keep the file; exit code 3 when a run paused."""
    out = _out(arguments)
    _check_words(arguments)
    if len(arguments.readings) == 1:
        sittings = _from_csv(arguments)
    elif arguments.readings:
        from benchd.command.meter.correct_readings import from_logs

        sittings = from_logs(*map(Path, arguments.readings))
    else:
        sitting = _sit(arguments)
        if isinstance(sitting, Exit):
            return sitting
        sittings = sitting
    from benchd.analysis.meter_model.correction import fit

    made = fit(sittings.pairs, arguments.method, luminance=not arguments.keep_luminance, placements=sittings.placements)
    file = _file(arguments, sittings, made)
    text = text_of(file)
    library.load_correction(text, str(out))  # what is kept must be what a bench can read
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(text, encoding="utf-8")
    if arguments.format == "json":
        sys.stdout.write(json.dumps({"file": str(out), **file.model_dump(mode="json")}, indent=2) + "\n")
    else:
        from benchd.report.terminal.correction import correction_text

        sys.stdout.write(correction_text(file, made))
    use = f"technology: {file.technology} and instruments: {{meter: {{…, correction: {_named(out)}}}}}"
    say(f"Kept in {out}. A bench uses it with: {use}")
    return Exit.COMPLETE


def _named(out: Path) -> str:
    return out.stem if out.parent == Path("profiles/corrections") else str(out)


def _out(arguments: Namespace) -> Path:
    name = arguments.name
    if not name or Path(name).name != name or not name.isprintable():
        raise InputError(f"the name {name!r} must be one word, such as plover-white-led; --output names the file")
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
    from benchd.command.meter.correct_readings import from_csv

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


def _sit(arguments: Namespace) -> MeterReadings | Exit:
    """A run with each meter, the reference meter first: the same plan, as any run."""
    from benchd.command.measure.operator import no_operator, wait_for_operator
    from benchd.command.measure.run import run_job
    from benchd.command.meter.correct_readings import from_logs
    from benchd.run.job import bench_job, plan_job

    # The field meter is to be read as it is: what corrected it before is put aside.
    jobs = bench_job(arguments.reference), bench_job(arguments.bench, corrected=False)
    plan = plan_job(PLAN)
    roles = ("reference", "field")
    logs = [default_log("logs", f"correct/{arguments.name}-{role}".replace("/", "-")) for role in roles]
    again = f"benchd correct {arguments.name} {logs[0]} {logs[1]}"
    for role, name, job, log in zip(roles, (arguments.reference, arguments.bench), jobs, logs, strict=True):
        if job.bench.manual_moves:
            question = (
                f"Put the {role} meter (bench {name}) in the middle of the screen, where the other one will be too"
            )
            if no_operator() or not wait_for_operator(question):
                say(f"{question}; then: benchd run {PLAN} --bench {name} --sample {arguments.sample} --log {log}")
                say(f"When both have been read: {again}")
                return Exit.PAUSED
        code = run_job(plan, job, log, arguments.sample, f"{role} meter for correction {arguments.name}")
        if code is not Exit.COMPLETE:
            say(f"When both have been read: {again}")
            return code
    return from_logs(*logs)


def _file(arguments: Namespace, sittings: MeterReadings, made: Fit) -> CorrectionFile:
    technology = arguments.technology or sittings.technology
    if technology is None:
        raise InputError("name the display technology: --technology NAME, or technology: NAME in the bench")
    expires = arguments.expires or day_after(sittings.made, VALID_DAYS)
    data = {
        "correction": arguments.name,
        "version": 1,
        "about": arguments.about,
        "method": made.method,
        "made": sittings.made,
        "expires": expires,
        "technology": technology,
        "spectra": arguments.spectra or f"made from {sittings.source}",
        "reference_meter": sittings.reference_meter,
        "reference_uncertainty": sittings.reference_uncertainty,
        "meter": sittings.meter,
        "simulated": sittings.simulated,
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
