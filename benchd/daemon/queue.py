"""The jobs on disk: one file a job, so that a restart or a power cut loses none and doubles none.

A file is replaced as a whole: written under another name, synced, renamed, and the folder synced; before
that nothing is acknowledged. A file that can't be read is set aside under a name that marks it. `read_service` gives
the state from the queue and the logs alone, for when no service answers, and changes nothing.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from benchd.clock import moment_s, wall_label
from benchd.daemon.job_control import FINISHED, Job, JobState, NotPossible, Submission, from_bytes, to_bytes
from benchd.errors import InputError, LogRefused
from benchd.run.log.journal import LogFile
from benchd.run.log.records import RunState, fold

KEEP_FINISHED = 500
"""Finished jobs that are kept; of older ones only the log stays."""

_NAME = re.compile(r"j([1-9][0-9]*)\.json(\.damaged)?\Z")


class QueueNotKept(NotPossible):
    """The queue's folder can't be written; nothing was changed."""


class Disk:
    """What a queue does to the file system, one call each, so that tests can stop between any two."""

    def write(self, path: Path, data: bytes) -> None:
        """A new file with its content on disk; its name is not yet sure."""
        descriptor = os.open(path, os.O_CREAT | os.O_TRUNC | os.O_WRONLY | os.O_CLOEXEC, 0o600)
        try:
            with os.fdopen(descriptor, "wb", closefd=False) as stream:
                stream.write(data)
            self.sync(descriptor)
        finally:
            os.close(descriptor)

    def sync(self, descriptor: int) -> None:
        """Until the disk has it."""
        os.fsync(descriptor)

    def rename(self, source: Path, target: Path) -> None:
        """Put ``source`` in the place of ``target``."""
        os.replace(source, target)

    def remove(self, path: Path) -> None:
        """Take a file away."""
        path.unlink(missing_ok=True)

    def sync_folder(self, folder: Path) -> None:
        """Make the names in ``folder`` sure."""
        descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            self.sync(descriptor)
        finally:
            os.close(descriptor)


class Queue:
    """The jobs of one folder. One process, one thread at a time: the service holds the locks.

    A job that was running when the last service ended waits again, before all others. ``damaged`` has a
    sentence for each file that was left aside. Raises `QueueNotKept` when the folder can't be used.
    """

    def __init__(self, folder: Path, disk: Disk | None = None) -> None:
        self.folder = folder
        self.damaged: tuple[str, ...] = ()
        self._disk = disk or Disk()
        self._jobs: dict[int, Job] = {}
        self._unsaved: dict[int, Job] = {}
        self._last = 0
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._load()
        except OSError as error:
            raise self._not_kept(error) from None

    def _load(self) -> None:
        found = read_folder(self.folder)
        self.damaged = tuple(found.faults.values())
        self._last = found.last
        self._jobs = {number(job.id): job for job in found.jobs}
        for leftover in self.folder.glob(".*.new"):
            self._disk.remove(leftover)
        for name in found.faults:
            self._disk.rename(self.folder / name, self.folder / f"{name}.damaged")
        if found.faults:
            self._disk.sync_folder(self.folder)

    def add(
        self,
        submission: Submission,
        steps: int,
        why: str = "",
        *,
        simulated: bool = False,
        cautions: tuple[str, ...] = (),
        plan: str = "",
    ) -> Job:
        """Queue a new job; on disk before this returns. Raises `QueueNotKept`."""
        job = Job(f"j{self._last + 1}", submission, JobState.QUEUED, wall_label(), why=why, steps=steps)
        job = replace(job, simulated=simulated, cautions=cautions, plan=plan)
        try:
            self._write(job)
        except QueueNotKept:
            with suppress(OSError):  # what is refused must not come up after a restart
                self._disk.remove(self.folder / f"{job.id}.json")
            raise
        self._last += 1
        self._jobs[self._last] = job
        self._prune()
        return job

    def put(self, job: Job) -> Job:
        """Replace a job by what became of it; on disk before this returns. Raises `QueueNotKept`."""
        self._write(job)
        self._jobs[number(job.id)] = job
        self._unsaved.pop(number(job.id), None)
        return job

    def note(self, job: Job) -> str:
        """`put` for what has happened already: kept in mind when the disk fails, and saved with `save`.

        Returns what is wrong with the disk, or "".
        """
        self._jobs[number(job.id)] = self._unsaved[number(job.id)] = job
        return self.save()

    def save(self) -> str:
        """Write what could not be written before; what is wrong with the disk, or ""."""
        try:
            for job in list(self._unsaved.values()):
                self.put(job)
        except QueueNotKept as error:
            return str(error)
        return ""

    def get(self, job_id: str) -> Job:
        """A job by its id. Raises `NotPossible`."""
        if (found := next((job for job in self._jobs.values() if job.id == job_id), None)) is None:
            raise NotPossible(f"there is no job {job_id}; `benchd jobs` lists them")
        return found

    def jobs(self) -> tuple[Job, ...]:
        """All jobs: the running one, those that wait in the order in which they will run, those that are paused, then
        the finished ones, the newest first."""
        return in_order(self._jobs.values())

    def holder(self) -> Job | None:
        """The job that keeps those behind it from starting, if there is one.

        A job that was paused while it ran holds the queue: a fault of the meter or the screen would hit the
        next job too, and an operator who pauses wants the bench to be still. A job that waits for the operator to
        move the meter or to set the display concerns only itself, and so does one that was held before it began.
        """
        paused = [job for job in self._jobs.values() if job.state is JobState.PAUSED]
        return next((job for job in paused if job.log and not job.waits_for_operator), None)

    def next_due(self, now_s: float) -> Job | None:
        """The job to run at ``now_s`` (seconds since 1970 UTC); None when none is due."""
        waiting = (job for job in self.jobs() if job.state is JobState.QUEUED)
        return next((job for job in waiting if due_s(job) <= now_s), None)

    def next_due_s(self) -> float | None:
        """When the earliest queued job is due, in seconds since 1970 UTC; None when nothing is queued."""
        return min((due_s(job) for job in self._jobs.values() if job.state is JobState.QUEUED), default=None)

    def _write(self, job: Job) -> None:
        fresh = self.folder / f".{job.id}.new"
        try:
            self._disk.write(fresh, to_bytes(job))
            self._disk.rename(fresh, self.folder / f"{job.id}.json")
            self._disk.sync_folder(self.folder)
        except OSError as error:
            raise self._not_kept(error) from None

    def _prune(self) -> None:
        """Forget the oldest finished jobs; the newest job stays, because its number must not come again."""
        finished = sorted(which for which, job in self._jobs.items() if job.state in FINISHED and which != self._last)
        for which in finished[: max(0, len(finished) - KEEP_FINISHED)]:
            try:
                self._disk.remove(self.folder / f"j{which}.json")
            except OSError:
                return  # it is tried again with the next job
            self._jobs.pop(which)
            self._unsaved.pop(which, None)

    def _not_kept(self, error: OSError) -> QueueNotKept:
        return QueueNotKept(
            f"the queue in {self.folder} can't be kept ({error.strerror or error}); make room there or make the "
            "folder writable, then try again"
        )


class FoundJobs(NamedTuple):
    """What a queue's folder holds: sound jobs, a sentence for each file that is not, the highest number."""

    jobs: tuple[Job, ...]
    faults: dict[str, str]
    last: int


def read_folder(folder: Path) -> FoundJobs:
    """The jobs of a folder; changes nothing, so that `benchd status` may look while a service writes.

    A job that was running is given as queued: it goes on with the next start. Raises OSError when the
    folder can't be read.
    """
    jobs: list[Job] = []
    faults: dict[str, str] = {}
    last = 0
    for name, which, aside in sorted(_job_files(folder), key=lambda entry: entry[1]):
        last = max(last, which)
        if aside:
            continue
        try:
            job = from_bytes((folder / name).read_bytes())
            if job.id != f"j{which}":
                raise ValueError(f"it holds job {job.id}")
        except FileNotFoundError:
            continue  # taken away at this moment
        except (OSError, ValueError) as error:
            why = (error.strerror if isinstance(error, OSError) else None) or error
            faults[name] = f"the job file {folder / name} is damaged ({why}) and left aside; submit its plan again"
            continue
        jobs.append(replace(job, state=JobState.QUEUED) if job.state is JobState.RUNNING else job)
    return FoundJobs(tuple(jobs), faults, last)


def _job_files(folder: Path) -> Iterator[tuple[str, int, bool]]:
    for name in os.listdir(folder):
        if match := _NAME.match(name):
            yield name, int(match[1]), bool(match[2])


def in_order(jobs: Iterable[Job]) -> tuple[Job, ...]:
    """Jobs in the order of `Queue.jobs`."""
    return tuple(sorted(jobs, key=_turn))


def _turn(job: Job) -> tuple[bool | int, ...]:
    """What was begun goes first, and of that the one for which the operator has just done something."""
    if job.state is not JobState.QUEUED:
        return (job.state is not JobState.RUNNING, True, job.state in FINISHED, -number(job.id))
    return (
        True,
        False,
        not (job.log and job.waits_for_operator),
        not job.log,
        -job.submission.priority,
        number(job.id),
    )


def number(job_id: str) -> int:
    """7 of ``j7``."""
    return int(job_id[1:])


def due_s(job: Job) -> float:
    """When a job may start, in seconds since 1970 UTC; what was begun is due at once."""
    moment = job.submission.not_before
    return moment_s(moment) if moment and not job.log else 0.0


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
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(
            f"no service was in {folder} (it has no queue); name with --folder the folder of a service, as benchd "
            "serve --folder had it"
        ) from None
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
    simulated = job.simulated or bool(state.started and state.started.body.get("simulated"))
    return replace(job, steps_done=state.steps_done, simulated=simulated, why=_why(job, state)), simulated


def _why(job: Job, state: RunState) -> str:
    if state.ended:
        return "every step is done; the next start of the service will record it"
    if job.state is JobState.PAUSED:
        return job.why or state.pause_reason
    stopped = f"was paused ({state.pause_reason})" if state.last_kind == "paused" else "was interrupted"
    return f"{stopped}; goes on with the next start of the service"
