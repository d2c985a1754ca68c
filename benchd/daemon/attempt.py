"""One job: checked before it is queued, then started on the bench or gone on with, and what became of it.

The same two functions run here that the foreground commands call (`benchd.run.session`).
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path

from benchd.clock import moment_s
from benchd.daemon.job_control import Job, JobState, Submission
from benchd.errors import BenchdError, InputError, LogRefused, PlanUnfit
from benchd.measuring_conditions import Value
from benchd.plan.bench_fit import set_manually
from benchd.plan.safety import cautions
from benchd.plan.step import ATTENDED, CAPPED, CENTRE, SCREEN_OFF
from benchd.profile.bench import Bench
from benchd.profile.conditions_model import entered
from benchd.run import session
from benchd.run.bench.entered_conditions import EnteredConditions
from benchd.run.bench.known_screen import refuse_unfit_as_known
from benchd.run.bench.open_bench import OpenBench
from benchd.run.bench.recorded_conditions import Entered, refuse_swept
from benchd.run.job import BenchJob, PlanJob, bench_job, plan_job_from
from benchd.run.log.log_ends import has_begun, last_record
from benchd.run.log.records import RunState
from benchd.run.operator_checks import Operator
from benchd.run.rig import Event, Outcome


@dataclass(frozen=True, slots=True)
class CheckedSubmission:
    """A submission that can be run, with the target's text among its files."""

    submission: Submission
    steps: int
    roams: bool  # the meter leaves the centre
    remark: str  # a remark for the operator before it runs
    simulated: bool
    cautions: tuple[str, ...]
    plan: str  # its name


def check(submission: Submission, bench_job: BenchJob) -> CheckedSubmission:
    """Raises `ProfileError` with all errors in the plan, `InputError` for the rest: its text, time, or bench."""
    for name, text in (("sample", submission.sample), ("note", submission.note), ("plan name", submission.plan_name)):
        if not text.isprintable():
            raise InputError(f"the {name} {text!r}: only printable characters, on one line")
    if submission.not_before:
        try:
            moment_s(submission.not_before)
        except (ValueError, OverflowError, OSError):
            raise InputError(
                f"not-before {submission.not_before!r} is not a moment; write 2026-03-02T18:00:00Z, or with an offset "
                "such as +01:00"
            ) from None
    given = _entered(submission)
    job = plan_job_from(submission.plan_name, submission.plan_text, submission.files)
    refuse_swept(job.plan, given, "condition")
    unknown = refuse_unfit_as_known(job.plan, bench_job, job.document)
    roams = any(step.at != CENTRE for step in job.steps)
    waits = "" if submission.attended else _remark(job, bench_job.bench)
    remark = "; ".join(filter(None, (waits, *unknown)))
    # Later edits of the target change nothing either.
    files = {**job.files, job.plan.target: job.target_document.text}
    to_heed = cautions(job.plan, job.steps, bench_job.bench)
    return CheckedSubmission(
        *(replace(submission, files=files), len(job.steps), roams, remark, bench_job.bench.is_simulated),
        cautions=to_heed,
        plan=job.plan.plan,
    )


_AT_PLACE = {CAPPED: "put the cap on the meter", SCREEN_OFF: "switch the display off"}


def _remark(job: PlanJob, bench: Bench) -> str:
    """What a job that is not attended will pause for."""
    away = dict.fromkeys(step.block for step in job.steps if step.at != CENTRE and step.place not in ATTENDED)
    wanted = [f"move the meter for {', '.join(away)}"] if away and bench.manual_moves else []
    if not bench.caps:
        places = dict.fromkeys(step.place for step in job.steps if step.place in ATTENDED)
        wanted += [_AT_PLACE[place] for place in places]
    manually = set_manually(job.plan, bench)
    wanted += [f"set {', '.join(manually)}"] if manually else []
    if not wanted:
        return ""
    return (
        f"the operator must {', and '.join(wanted)}, and the job is not attended: it will pause there. "
        "Submit it with --attended when an operator is present"
    )


logger = logging.getLogger("benchd.service")


class Ending(StrEnum):
    """How an attempt at a job ended."""

    COMPLETE = "complete"
    ASKED = "asked"  # a stop was requested
    PAUSED = "paused"  # a fault, or a move that needs the operator
    FAILED = "failed"  # this job can't be run as it is
    NOT_READY = "not ready"  # a part of the bench, or the disk, does not answer: the job is as it was


@dataclass(frozen=True, slots=True)
class JobOutcome:
    """What became of a job."""

    ending: Ending
    why: str = ""
    move_to: str = ""
    set_to: str = ""

    @property
    def state(self) -> JobState:
        """The state that the job gets by it."""
        return {
            Ending.COMPLETE: JobState.COMPLETE,
            Ending.PAUSED: JobState.PAUSED,
            Ending.FAILED: JobState.FAILED,
        }.get(self.ending, JobState.QUEUED)


@dataclass(frozen=True, slots=True)
class Sessions:
    """How a session is run; tests put others in."""

    start: Callable[..., Outcome] = session.start
    resume: Callable[..., Outcome] = session.resume
    bench: Callable[[str], BenchJob] = bench_job


@dataclass(slots=True)
class SessionHooks:
    """The callbacks of a session."""

    operator: Operator
    opened: Callable[[OpenBench, PlanJob, RunState], None]
    event: Callable[[Event], None]
    began: bool = field(default=False, init=False)

    @property
    def observer(self) -> session.Observer:
        """What the session calls."""
        return session.Observer(self._opened, self.event, logger.warning)

    def _opened(self, bench: OpenBench, job: PlanJob, state: RunState) -> None:
        self.began = True
        self.opened(bench, job, state)


def attempt(job: Job, log: Path, bench: str, watch: SessionHooks, sessions: Sessions) -> JobOutcome:
    """Run one session of ``job`` to its end. Never raises an `Exception`: whatever happens is an outcome."""
    try:
        outcome = _session(job, log, bench, watch, sessions)
    except (_JobAtFault, PlanUnfit) as error:
        return JobOutcome(Ending.FAILED, str(error))
    except (BenchdError, OSError) as error:
        # Before the bench was open nothing was begun; after that only the log itself can fail.
        if watch.began:
            return JobOutcome(Ending.PAUSED, str(error))
        _clear(log)
        return JobOutcome(Ending.NOT_READY, str(error))
    except Exception as error:
        logger.exception("unknown error", extra={"facts": {"job": job.id}})
        text = (
            f"unknown error ({type(error).__name__}: {error}); readings in the log are safe. "
            "Please report it with the service's log"
        )
        return JobOutcome(Ending.PAUSED if watch.began else Ending.FAILED, text)
    if outcome is None or outcome.complete:
        return JobOutcome(Ending.COMPLETE)
    if outcome.asked:
        return JobOutcome(Ending.ASKED, outcome.why)
    why = f"{outcome.step}: {outcome.why}" if outcome.step else outcome.why
    return JobOutcome(Ending.PAUSED, why, outcome.move_to, outcome.set_to)


def _clear(log: Path) -> None:
    """Take away a log whose first record was cut short: nothing was measured, and its name is needed."""
    with suppress(OSError):
        if not has_begun(log):
            log.unlink(missing_ok=True)


class _JobAtFault(BenchdError):
    """This job can't be run as it is, on whatever bench."""


def _session(job: Job, log: Path, bench: str, watch: SessionHooks, sessions: Sessions) -> Outcome | None:
    """The outcome; None when by its log every step was done before."""
    if has_begun(log):
        last = last_record(log)
        if last is not None and last.kind == "ended":
            return None
        try:
            return sessions.resume(log, watch.operator, watch.observer)
        except LogRefused as error:
            if error.line:
                raise _JobAtFault(str(error)) from None
            raise  # the file as a whole: the disk may come back
        except InputError as error:
            raise _JobAtFault(str(error)) from None
    if job.log:
        logger.warning("log is gone or was never begun; the job starts anew", extra={"facts": {"job": job.id}})
    _clear(log)
    submission = job.submission
    try:
        plan = plan_job_from(submission.plan_name, submission.plan_text, submission.files)
    except InputError as error:
        raise _JobAtFault(str(error)) from None
    bench_now = sessions.bench(bench)
    for caution in cautions(plan.plan, plan.steps, bench_now.bench):
        logger.warning("caution", extra={"facts": {"job": job.id, "text": caution}})
    known = EnteredConditions(bench_now.bench.bench, submission.sample).known()
    known |= {key: Entered(value) for key, value in _entered(submission).items()}
    return sessions.start(
        *(plan, bench_now, log, watch.operator, watch.observer),
        sample=submission.sample,
        note=submission.note,
        entered=known,
    )


def _entered(submission: Submission) -> dict[str, Value]:
    """The conditions of a submission. Raises `InputError`."""
    return entered((f"{key}={text}" for key, text in submission.conditions.items()), "condition")
