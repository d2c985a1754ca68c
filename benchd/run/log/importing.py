"""Readings that were taken elsewhere become a log, with the same records as a run, for the same analysis.

The first record states that the readings were imported, from which file and with which digest; so does every result.
What is not known is not made up: the log holds no bench, no screen and no integration time, and bench time only where
the file has it. A step is done when it has a reading; the log ends when every step of the plan has one. A warm-up is
no reading and is not requested.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from itertools import groupby
from pathlib import Path

from benchd.clock import StopRequest, VirtualClock
from benchd.errors import InputError
from benchd.instruments.meter import MeterIdentity
from benchd.patch.screen import ScreenIdentity
from benchd.plan.step import CENTRE, Step
from benchd.plan.steps import REFERENCE
from benchd.run.bench.log_head import resolution_head
from benchd.run.bench.recorded_conditions import conditions_body, statements_of
from benchd.run.job import BenchJob, PlanJob
from benchd.run.log import journal
from benchd.run.log.bodies import what_of
from benchd.run.log.given_readings import TRISTIMULUS, GivenReading
from benchd.run.log.records import Body
from benchd.run.session import new_session, started_body

BY = "imported"


@dataclass(frozen=True, slots=True)
class Source:
    """Where the readings come from and what is known about them."""

    file: str
    text: str
    meter: str = ""
    floor_cd_m2: float | None = None  # outweighs the bench's
    simulated: bool = False
    quantities: tuple[str, ...] = TRISTIMULUS  # what the light is given as, and its unit
    unit_cd_m2: float = 1.0


@dataclass(frozen=True, slots=True)
class Imported:
    """What a log was made of: steps done of those that the plan has, and readings."""

    done: int
    planned: int
    readings: int


def import_readings(
    job: PlanJob,
    given: Sequence[GivenReading],
    source: Source,
    log: Path,
    *,
    sample: str,
    note: str = "",
    bench: BenchJob | None = None,
) -> Imported:
    """Write ``log``. ``bench``: whose meter's stated uncertainty, range and resolution count, where one is named.

    Raises `InputError` when the readings of one step do not follow each other, when the plan's reference patch lacks
    times, or when the log can't be made.
    """
    steps = {step.id: step for step in job.steps if step.kind == "measure"}
    groups = [(name, list(group)) for name, group in groupby(given, key=lambda one: one.step)]
    _check(groups, steps, source.file)
    clock = VirtualClock()
    at = CENTRE
    with closing(journal.create(log, clock, new_session())) as out:
        out.append("started", body=_started(job, source, sample, note, len(steps), bench))
        for name, readings in groups:
            step = steps[name]
            _until(clock, readings[0].time_s)
            if step.at != at:
                out.append("moved", name, 1, {"place": step.place, "at": list(step.at), "by": BY})
                at = step.at
            out.append("shown", name, 1, {**what_of(step), "readback": {"method": BY}, "elapsed_s": 0.0})
            for number, reading in enumerate(readings, 1):
                _until(clock, reading.time_s)
                out.append("reading", name, 1, _reading(number, reading))
            out.append("done", name, 1, {"readings": len(readings)})
        if len(groups) == len(steps):
            out.append("ended", body={"steps": len(groups), "readings": len(given), "faults": 0})
    return Imported(len(groups), len(steps), len(given))


def _until(clock: VirtualClock, time_s: float | None) -> None:
    """Let bench time pass until ``time_s`` after the first reading; None: not known."""
    if time_s is not None:
        clock.sleep(max(0.0, time_s - clock.now_s()), StopRequest())


def _check(groups: Sequence[tuple[str, list[GivenReading]]], steps: dict[str, Step], file: str) -> None:
    seen: dict[str, int] = {}
    for name, readings in groups:
        if name not in steps:
            raise InputError(f"{file}:{readings[0].line}: {name} is no step that is measured; take the line away")
        if name in seen:
            raise InputError(
                f"{file}:{readings[0].line}: {name} was read in line {seen[name]} already, with another step between; "
                "put its readings together"
            )
        seen[name] = readings[0].line
        if steps[name].block.rpartition("/")[2] == REFERENCE and readings[0].time_s is None:
            raise InputError(
                f"{file}:{readings[0].line}: the plan's reference patch shows drift, so a time_s is needed"
            )


def _started(job: PlanJob, source: Source, sample: str, note: str, steps: int, bench: BenchJob | None) -> Body:
    low, high = _range_of(bench)
    meter = MeterIdentity(
        model=source.meter or "not named",
        serial_number="",
        firmware="",
        driver=BY,
        address="",
        simulated=source.simulated,
        floor_cd_m2=low if source.floor_cd_m2 is None else source.floor_cd_m2,
        ceiling_cd_m2=high,
    )
    screen = ScreenIdentity(
        name="not known",
        width=0,
        height=0,
        x=0,
        y=0,
        bits=job.plan.bits,
        readback="none",
        renderer="not known",
        awake="not known",
        simulated=source.simulated,
    )
    who = {
        "meter": asdict(meter),
        "screen": asdict(screen),
        "simulated": source.simulated,
        "virtual_time": False,
    }
    digest = hashlib.sha256(source.text.encode()).hexdigest()
    return {
        **started_body(job, bench, sample, note, who),
        "conditions": conditions_body(statements_of(job.plan, bench.bench, {}), bench.bench) if bench else None,
        "steps": steps,
        "resolution": resolution_head(bench)
        | {"sent": {"quantities": list(source.quantities), "units_cd_m2": [source.unit_cd_m2]}},
        "imported": {"file": source.file, "sha256": digest, "text": source.text},
    }


def _range_of(bench: BenchJob | None) -> tuple[float | None, float | None]:
    """Specified luminance range of the bench's meter."""
    if bench is None:
        return None, None
    stated = bench.bench.instruments.meter.range_cd_m2 or (bench.dialect.range_cd_m2 if bench.dialect else None)
    return stated or (None, None)


def _reading(number: int, given: GivenReading) -> Body:
    body: Body = {
        "n": number,
        "xyz": list(given.xyz) if given.xyz else None,
        "status": given.status.value,
        "integration_s": None,
        "raw": given.raw,
        "elapsed_s": 0.0,
    }
    return body if given.after_s is None else {**body, "after_s": given.after_s}
