"""A submission, checked before it is queued: its plan, its words, its time."""

from __future__ import annotations

from dataclasses import dataclass, replace

from benchd.clock import moment_s
from benchd.daemon.job_control import Submission
from benchd.errors import InputError
from benchd.plan.bench_fit import set_manually
from benchd.plan.step import ATTENDED, CAPPED, CENTRE, SCREEN_OFF
from benchd.profile.bench import Bench
from benchd.run.bench.known_screen import refuse_unfit_as_known
from benchd.run.job import BenchJob, PlanJob, plan_job_from


@dataclass(frozen=True, slots=True)
class CheckedSubmission:
    """A submission that can be run, with the target's text among its files."""

    submission: Submission
    steps: int
    roams: bool  # the meter leaves the centre
    remark: str  # a remark for the operator before it runs


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
    job = plan_job_from(submission.plan_name, submission.plan_text, submission.files)
    unknown = refuse_unfit_as_known(job.plan, bench_job)
    roams = any(step.at != CENTRE for step in job.steps)
    waits = "" if submission.attended else _remark(job, bench_job.bench)
    remark = "; ".join(filter(None, (waits, *unknown)))
    # Later edits of the target change nothing either.
    files = {**job.files, job.plan.target: job.target_document.text}
    return CheckedSubmission(replace(submission, files=files), len(job.steps), roams, remark)


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
