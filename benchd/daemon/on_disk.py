"""The state from the queue and the logs alone, for when no service answers. Changes nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from benchd.daemon.job_control import Job, JobState
from benchd.daemon.queue import in_order, read_folder
from benchd.errors import InputError, LogRefused
from benchd.run.log.journal import LogFile
from benchd.run.log.records import RunState, fold


@dataclass(frozen=True, slots=True)
class StoredJobs:
    """The jobs of one folder, with the state of their logs; ``damaged`` has a sentence for each job that is lost."""

    folder: str
    jobs: tuple[Job, ...]
    damaged: tuple[str, ...]
    simulated: bool  # a simulator took part in one of the logs


def read_service(folder: Path) -> StoredJobs:
    """Raises `InputError` when there is no queue in ``folder``."""
    try:
        found = read_folder(folder / "queue")
    except OSError as error:
        raise InputError(f"{folder / 'queue'} can't be read ({error.strerror}); name the folder of a service") from None
    simulated = False
    jobs: list[Job] = []
    for job in found.jobs:
        if job.state in (JobState.QUEUED, JobState.PAUSED) and job.log:
            job, was_simulated = _with_log(job)
            simulated |= was_simulated
        jobs.append(job)
    return StoredJobs(str(folder), in_order(jobs), tuple(found.faults.values()), simulated)


def _with_log(job: Job) -> tuple[Job, bool]:
    """The job with what its log states: how far it is, and why it stopped."""
    path = Path(job.log)
    if not path.exists():
        return replace(job, why="its log is not there; it will start anew"), False
    try:
        state = fold(LogFile(path).records())
    except LogRefused as error:
        return replace(job, why=str(error)), False
    simulated = bool(state.started and state.started.body.get("simulated"))
    return replace(job, steps_done=state.steps_done, why=_why(job, state, simulated)), simulated


def _why(job: Job, state: RunState, simulated: bool) -> str:
    head = "SIMULATED: " if simulated else ""
    if state.ended:
        return f"{head}every step is done; the next start of the service will record it"
    if job.state is JobState.PAUSED:
        return f"{head}{job.why or state.pause_reason}"
    stopped = f"was paused ({state.pause_reason})" if state.last_kind == "paused" else "was interrupted"
    return f"{head}{stopped}; goes on with the next start of the service"
