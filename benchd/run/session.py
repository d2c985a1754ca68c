"""A run from its first record to the end of a session: start a log, go on with one.

The foreground command and, later, the service use the same two functions.
"""

from __future__ import annotations

import platform
import secrets
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path
from types import MappingProxyType

from benchd import __version__
from benchd.clock import RealClock, seconds_since
from benchd.errors import LogRefused
from benchd.instruments.meter import MeterIdentity
from benchd.measurements import registry
from benchd.measuring_conditions import contradictions
from benchd.patch.screen import ScreenIdentity
from benchd.plan import steps as plan_steps
from benchd.plan.estimate import working_s
from benchd.plan.run_order import run_order
from benchd.plan.step import Step
from benchd.plan.sweep import settle_after
from benchd.profile.bench import Bench
from benchd.profile.driver import Driver, claim_of
from benchd.run.adaptive.interface import adaptive_reading
from benchd.run.bench.known_screen import refuse_correction, refuse_unfit
from benchd.run.bench.log_head import (
    correction_head,
    flicker_head,
    load_repeated,
    repeated_head,
    resolution_head,
)
from benchd.run.bench.open_bench import OpenBench
from benchd.run.bench.recorded_conditions import (
    Entered,
    changed_conditions,
    conditions_body,
    entered_before,
    refuse_swept,
    statements_of,
)
from benchd.run.job import BENCH_PROFILES, BenchJob, PlanJob, jobs_from_log
from benchd.run.log import journal
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Body, RunState, advance
from benchd.run.operator_checks import Confirm, Operator, OperatorChecks
from benchd.run.plausible import Bounds
from benchd.run.procedures.table import refuse_unknown
from benchd.run.procedures.warm_up import ahead_min
from benchd.run.rig import Event, Outcome, PanelProtection
from benchd.run.sequencer import Sequencer

NOTHING_ENTERED: Mapping[str, Entered] = MappingProxyType({})
LIBRARIES = ("monitorcontrol", "numpy", "pydantic", "pyglet", "pyserial", "pyyaml")


@dataclass(frozen=True, slots=True)
class Observer:
    """Callbacks: once when the bench is open, then for every event; and what the operator should know."""

    opened: Callable[[OpenBench, PlanJob, RunState], None] = lambda bench, job, state: None
    event: Callable[[Event], None] = lambda event: None
    note: Callable[[str], None] = lambda sentence: None


def new_session() -> str:
    """A name for a session, unique within one log."""
    return secrets.token_hex(4)


def start(
    job: PlanJob,
    bench_job: BenchJob,
    log: Path,
    operator: Operator,
    observer: Observer = Observer(),
    *,
    sample: str,
    note: str = "",
    repeat: Body | None = None,
    entered: Mapping[str, Entered] = NOTHING_ENTERED,
) -> Outcome:
    """Open the bench, begin a log, and run. Nothing is written when a part of the bench does not answer.

    Raises `PlanUnfit` when the bench can't run the plan, by its profile or as the screen then reports of itself;
    `InputError` when the bench's correction is not to be used (another technology, expired), and what `OpenBench`
    raises. ``repeat``: which run of a repetition this is; ``entered``: conditions from the operator.
    """
    refuse_correction(bench_job)
    refuse_unfit(job.plan, bench_job, job.document)
    refuse_unknown(job.steps)
    repeated = load_repeated(bench_job.bench.bench)
    with OpenBench(bench_job, operator) as bench:
        refuse_unfit(job.plan, bench_job, job.document, bench.screen_identity)
        flicker = flicker_head(
            bench_job.bench.flicker, bench.screen_identity.refresh_hz, follow=job.plan.sync != "none"
        )
        who = {**identities(bench), "flicker": flicker}
        who |= {"repeatability": repeated_head(repeated, bench.meter_identity)} | ({"repeat": repeat} if repeat else {})
        conditions = _conditions(job, bench_job, bench, entered)
        _warn_of_contradictions(conditions, observer)
        who |= {"conditions": conditions}
        with closing(journal.create(log, bench.clock, new_session())) as out:
            state = RunState()
            advance(state, out.append("started", body=started_body(job, bench_job, sample, note, who)))
            return _run(job, bench_job, bench, out, state, operator, observer)


COUNTS = {
    "display": "the display's answer",
    "meter": "the meter's answer",
    "operator": "the entered value",
    "plan": "the plan's value",
}
"""Of a condition that was given and is contradicted, by the source of its first statement."""


def _conditions(job: PlanJob, bench_job: BenchJob, bench: OpenBench, entered: Mapping[str, Entered]) -> Body:
    """The conditions as they are now, the display's own answers among them."""
    answers = bench.controls, bench.meter_identity, bench.screen_identity
    return conditions_body(statements_of(job.plan, bench_job.bench, entered, *answers), bench_job.bench)


def _warn_of_contradictions(conditions: Body, observer: Observer) -> None:
    for one in contradictions(conditions["values"]):
        counts = COUNTS[conditions["values"][one.key][0]["source"]]
        observer.note(f"{one.text}: {counts} counts, and the results will say that they are in doubt")


def resume(
    log: Path,
    operator: Operator,
    observer: Observer = Observer(),
    *,
    entered: Mapping[str, Entered] = NOTHING_ENTERED,
) -> Outcome:
    """Go on with a log, from the file alone; a condition that has changed since is kept and reported.

    Raises `LogRefused` for a damaged or complete log, `JournalBusy` when another process writes it, and what
    `OpenBench` raises when a part does not answer (the log is then untouched but for a torn last line).
    """
    out, state, cut = journal.reopen(log, RealClock(), new_session())
    with closing(out):
        started = state.started
        if started is None or state.ended:
            raise LogRefused(str(log), 0, "every step is done and the log has ended; start a new run instead")
        job, bench_job = jobs_from_log(started.body, str(log))
        refuse_swept(job.plan, entered)
        first = (MeterIdentity(**started.body["meter"]), ScreenIdentity(**started.body["screen"]))
        with OpenBench(bench_job, operator, expect_meter=first[0], expect_screen=first[1]) as bench:
            out.clock = bench.clock
            known = {**entered_before(state.conditions), **entered}
            now = _conditions(job, bench_job, bench, known)
            changed, notes = changed_conditions(state.conditions, now)
            for sentence in notes:
                observer.note(sentence)
            _warn_of_contradictions(now, observer)
            body = {**identities(bench), "cut_bytes": cut.bytes, "cut_text": cut.text, **_surroundings()}
            body |= {"conditions": changed} if changed["values"] else {}
            gap_s = 0.0 if bench.clock.virtual else seconds_since(state.last_wall)
            advance(state, out.append("resumed", body=body))
            again = gap_s > job.plan.rewarm_after_min * 60
            return _run(job, bench_job, bench, out, state, operator, observer, warm_up_again=again)


def _run(
    job: PlanJob,
    bench_job: BenchJob,
    bench: OpenBench,
    out: journal.Journal,
    state: RunState,
    operator: Operator,
    observer: Observer,
    *,
    warm_up_again: bool = False,
) -> Outcome:
    observer.opened(bench, job, state)
    flicker = (state.started.body if state.started else {}).get("flicker") or {}
    bench.attended.confirmed = state.move_to
    if flicker.get("synchronised"):
        bench.synchronise(float(flicker["refresh_hz"]))
    protection = PanelProtection(job.plan.bright_at_most_s, job.plan.rest_s) if bench.panel == "emissive" else None
    steps = run_order(job.steps, manual_moves=bench.positioner.by == "operator")
    sequencer = Sequencer(
        steps,
        state,
        bench,
        out,
        operator.stop,
        job.plan.warm_up.limits,
        ahead_min=ahead_min(working_s(job.steps, bench_job.bench.timing)),
        warm_up_again=warm_up_again,
        reference_again=job.plan.reference is not None and job.plan.reference.compensate,
        protection=protection,
        bounds=Bounds(bench.meter_identity.floor_cd_m2, bench.meter_identity.ceiling_cd_m2, job.plan.look_again),
        adaptive=adaptive_reading(steps, state, bench_job.bench, bench_job.dialect, bench.meter_identity),
        planned_s=settle_after(job.plan.sweep),
        operator=_operator_checks(bench_job.bench, steps, state, out.path, operator.confirm),
        watch=observer.event,
    )
    return sequencer.run()


def _operator_checks(
    bench: Bench, steps: Sequence[Step], state: RunState, log: Path, confirm: Confirm
) -> OperatorChecks | None:
    """Of a bench where an operator moves the meter or sets the display; a resume has what the log holds."""
    if not bench.manual_moves and all(control.prompt is None for control in bench.controls.values()):
        return None
    records = LogFile(log).records() if state.sessions > 1 else ()
    head = state.started.body.get("resolution") if state.started else None
    return OperatorChecks(steps, confirm, head, records)


def identities(bench: OpenBench) -> Body:
    """Who answers on the bench, for the log."""
    return {
        "meter": asdict(bench.meter_identity),
        "screen": asdict(bench.screen_identity),
        "simulated": bench.simulated,
        "virtual_time": bench.clock.virtual,
    }


def started_body(job: PlanJob, bench_job: BenchJob | None, sample: str, note: str, who: Mapping[str, object]) -> Body:
    """The body of the first record: everything that a resume or an analysis will ever need.

    ``bench_job`` None: readings from elsewhere, of which no bench is known.
    """
    found = bench_job.documents if bench_job else {}
    profiles = {name: found[name]._asdict() if name in found else None for name in BENCH_PROFILES}
    uncertainty = bench_job.bench.uncertainty if bench_job else None
    parts = bench_job.bench.instruments if bench_job else None
    return {
        "plan": job.document._asdict(),
        "files": dict(job.files),
        "profiles": {"target": job.target_document._asdict(), **profiles},
        "steps_digest": plan_steps.digest(job.steps),
        "steps": len(job.steps),
        "readings": sum(step.readings for step in job.steps),
        "blocks": plan_steps.describe(job.plan, job.files),
        "measurements": registry.provenance(block.kind for block in job.plan.blocks),
        "target": job.target.normalised(),
        "settings": plan_steps.settings(job.plan),
        "driver": _driver(parts.meter.driver if parts else None),
        "stage_driver": _driver(parts.stage.driver if parts and parts.stage else None),
        "technology": bench_job.bench.technology if bench_job else None,
        "uncertainty": uncertainty.normalised() if uncertainty else None,
        "resolution": resolution_head(bench_job),
        "correction": correction_head(bench_job) if bench_job else None,
        "sample": sample,
        "note": note,
        **who,
        **_surroundings(),
    }


def _driver(driver: Driver | None) -> Body | None:
    """A driver that a package beside benchd adds, with the package and its version."""
    if driver is None:
        return None
    claim = claim_of(driver.name)
    return {"name": driver.name, "package": claim.distribution, "version": claim.version}


def _surroundings() -> Body:
    from importlib import metadata  # a run that is refused need not wait for it

    versions = {"benchd": __version__, "python": platform.python_version()}
    versions |= {name: metadata.version(name) for name in LIBRARIES}
    return {"versions": versions, "environment": {"system": platform.platform(), "machine": platform.machine()}}
