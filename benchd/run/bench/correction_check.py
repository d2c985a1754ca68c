"""May a run begin with the bench's correction, and what its log states of it."""

from __future__ import annotations

from hashlib import sha256

from benchd.clock import wall_label
from benchd.errors import InputError
from benchd.plan.bench_fit import correction_fault
from benchd.run.job import BenchJob
from benchd.run.log.records import Body


def refuse_correction(job: BenchJob) -> None:
    """Raises `InputError` when a run must not begin with the bench's correction, as far as the files show."""
    if job.correction is not None and (unfit := correction_fault(job.bench, job.correction, wall_label()[:10])):
        raise InputError(unfit)


def correction_head(job: BenchJob) -> Body | None:
    """The correction as the first record of a log keeps it; None without one."""
    if job.correction is None or job.correction_document is None:
        return None
    return job.correction.head(sha256(job.correction_document.text.encode()).hexdigest())
