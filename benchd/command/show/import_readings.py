"""``benchd import``: readings that were taken manually or elsewhere become a log."""

from __future__ import annotations

import sys
from argparse import Namespace
from functools import partial
from pathlib import Path

from benchd.command.log_names import as_typed, default_log
from benchd.command.messages import say
from benchd.command.output import fresh, one_line, refused, sample_name
from benchd.errors import InputError, ProfileError
from benchd.exits import Exit
from benchd.interrupt import Undo
from benchd.profile import profile_store as library
from benchd.report.words import printable
from benchd.run.job import PlanJob, bench_job, plan_job
from benchd.run.log.given_readings import (
    TRISTIMULUS,
    UNITS,
    GivenReading,
    is_colour_text,
    quantities_in,
    read_colour_text,
    read_given,
    template,
)
from benchd.run.log.importing import Source, import_readings


def main(arguments: Namespace) -> Exit:
    """Write the log, or print the empty file."""
    job = plan_job(arguments.plan)
    if arguments.template:
        sys.stdout.write(template(job.steps))
        return Exit.COMPLETE
    if arguments.readings is None:
        raise InputError(
            "which file holds the readings? benchd import FILE --plan PLAN, or --template for an empty one"
        )
    path = Path(arguments.readings)
    text = library.read_text(path)
    sample, note = sample_name(arguments.sample), one_line("--note", arguments.note)
    try:
        given, simulated = _given(text, arguments, job)
    except ProfileError as error:
        return refused(error, "no log was made")
    log = fresh(Path(arguments.log) if arguments.log else default_log(sample, "imported"))
    meter = one_line("--meter", " ".join(arguments.meter))
    form, unit_cd_m2 = _sent(text, arguments.unit)
    # Whether the readings were corrected is not known: they are taken as they are.
    bench = bench_job(arguments.bench, corrected=False) if arguments.bench else None
    # The uncertainty and range of a simulated bench's meter are part of the figures.
    simulated = simulated or (bench is not None and bench.bench.is_simulated)
    source = Source(path.name, text, meter, arguments.floor, simulated, form, unit_cd_m2)
    with Undo(partial(log.unlink, missing_ok=True)):
        made = import_readings(job, given, source, log, sample=sample, note=note, bench=bench)
    summary = f"{log}: {made.readings} readings, {made.done} of {made.planned} steps, imported from {path.name}"
    print(printable(summary))
    say(f"Results: benchd results {as_typed(log)}")
    return Exit.COMPLETE


def _given(text: str, arguments: Namespace, job: PlanJob) -> tuple[list[GivenReading], bool]:
    """The readings, and whether a simulator took part: the operator or the file may state it."""
    if is_colour_text(text):
        given, simulated = read_colour_text(text, arguments.readings, job.steps)
        return given, simulated or arguments.simulated
    return read_given(text, arguments.readings, job.steps, arguments.unit), arguments.simulated


def _sent(text: str, unit: str) -> tuple[tuple[str, ...], float]:
    """What the light of the file is given as, and its unit in cd/m2."""
    return (TRISTIMULUS, 1.0) if is_colour_text(text) else (quantities_in(text), UNITS[unit])
