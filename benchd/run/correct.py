"""May a run begin with the bench's correction, and what its log says of it."""

from __future__ import annotations

from hashlib import sha256

from benchd.clock import wall_label
from benchd.errors import InputError
from benchd.run.job import BenchJob
from benchd.run.records import Body


def refuse_correction(job: BenchJob) -> None:
    """Raises `InputError` when a run must not begin with the bench's correction: what can be told from the files.

    Another display technology, another serial number than the bench's, a day that is past. A run that was begun goes
    on with its correction after that day, so that all its readings are of one kind.
    """
    correction, bench = job.correction, job.bench
    if correction is None:
        return
    unfit = correction.unfit_for(technology=bench.technology, today=wall_label()[:10])
    if not unfit and bench.meter.serial_number is not None:
        unfit = correction.unfit(model=correction.meter.model, serial_number=bench.meter.serial_number)
    if unfit:
        raise InputError(unfit)


def correction_head(job: BenchJob) -> Body | None:
    """The correction as the first record of a log keeps it; None without one."""
    if job.correction is None or job.correction_document is None:
        return None
    return job.correction.head(sha256(job.correction_document.text.encode()).hexdigest())
