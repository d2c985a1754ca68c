"""Jobs of a service as text: a table, how far each is, and what to heed before one lights the screen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from benchd.command.messages import heed
from benchd.command.output import width
from benchd.daemon.job_control import FINISHED, Job, JobState, Snapshot
from benchd.local_time import end_time, local_time
from benchd.report.terminal.progress import Progress, bar
from benchd.report.words import SIMULATED, by_reason, caution_text, columns, wrapped


def job_table(jobs: Iterable[Job]) -> str:
    """Jobs as aligned lines, each with what hinders it below, and the cautions of those that are still to run."""
    listed = list(jobs)
    if not listed:
        return "no jobs\n"
    rows = columns([_row(job) for job in listed], left=(0, 1, 2, 3, 4, 5))
    with_reasons = (f"{row}\n    {job.why}" if job.why else row for job, row in zip(listed, rows, strict=True))
    return "\n".join((*with_reasons, *_cautions(listed))) + "\n"


def _row(job: Job) -> list[str]:
    sent, waits = job.submission, job.state is JobState.QUEUED
    facts = [
        SIMULATED if job.simulated else "",
        f"not before {local_time(sent.not_before)}" if sent.not_before and waits else "",
        f"priority {sent.priority}" if sent.priority and waits else "",
        "attended" if sent.attended else "",
        job.log,
    ]
    return [
        job.id,
        job.state.value,
        job.plan_label,
        sent.sample or "not named",
        how_far(job),
        "  ".join(filter(None, facts)),
    ]


def how_far(job: Job) -> str:
    """``44/108, 41 %``; "" where its steps are not known."""
    steps = f"{job.steps_done}/{job.steps}" if job.steps else ""
    share = f"{int(100 * job.share_done)} %" if job.share_done and job.state not in FINISHED else ""
    return ", ".join(filter(None, (steps, share)))


def how_far_line(job: Job) -> str:
    """``[=====>    ]  44/108, 41 %`` of a job that is paused."""
    return f"{bar(job.share_done)}  {how_far(job)}"


def _cautions(jobs: Sequence[Job]) -> Iterator[str]:
    """Each caution once, with the jobs that it holds for."""
    pairs = [(caution, job.id) for job in jobs if job.state not in FINISHED for caution in job.cautions]
    for caution, whose in by_reason(pairs):
        yield from wrapped(caution_text(caution, ", ".join(whose)), width(), hanging="    ")


def say_cautions(job: Job) -> None:
    """What the operator should heed before the job lights the screen."""
    heed(job.cautions)


def job_head(job: Job) -> str:
    """Which job it is, in a line."""
    simulated = f"{SIMULATED}  " if job.simulated else ""
    sample = job.submission.sample or "not named"
    return f"{simulated}Job {job.id}: plan {job.plan_label}, sample {sample}. Log: {job.log}"


def ends(snapshot: Snapshot) -> str:
    """When the running job ends, by the clock; "" where it is not known, or waits for the operator."""
    if snapshot.left_s is None or snapshot.virtual_time or snapshot.operator:
        return ""
    return end_time(snapshot.wall, snapshot.left_s, snapshot.left_maximum_s or snapshot.left_s)


def progress_of(snapshot: Snapshot) -> Progress:
    """The line of a running job; its reading is one of the step that is under way, or none."""
    job = snapshot.job
    assert job is not None
    last = snapshot.readings[-1] if snapshot.readings else None
    if last is not None and last.step != snapshot.step:
        last = None  # a reading of the patch before, which would look like one of this patch
    return Progress(
        block=snapshot.step.partition("/")[0],
        step=min(job.steps_done + 1, job.steps),
        steps=job.steps,
        what=snapshot.what,
        done=snapshot.share_done,
        left_s=snapshot.left_s,
        left_maximum_s=snapshot.left_maximum_s,
        faults=len(snapshot.faults),
        log=job.log,
        luminance_cd_m2=last.luminance_cd_m2 if last else None,
        status=last.status if last else "ok",
        simulated=snapshot.simulated,
        ends=ends(snapshot),
    )
