"""What the operator should heed before a log goes on: the cautions of the plan that it holds."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from benchd.command.messages import heed
from benchd.errors import BenchdError
from benchd.plan.safety import cautions
from benchd.run.job import jobs_from_log
from benchd.run.log.journal import LogFile
from benchd.run.log.log_ends import last_record


def say_cautions_of(log: Path) -> bool:
    """Say them; True when a simulator took part. Of a log that can't be resumed, or has ended, nothing is said."""
    started = None
    with suppress(BenchdError):
        started = next(LogFile(log).records(), None)
    if started is None:
        return False
    last = last_record(log)
    if last is not None and last.kind == "ended":
        return bool(started.body.get("simulated"))
    with suppress(BenchdError):
        job, bench = jobs_from_log(started.body, str(log))
        heed(cautions(job.plan, job.steps, bench.bench))
    return bool(started.body.get("simulated"))
