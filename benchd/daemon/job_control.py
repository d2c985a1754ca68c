"""The interface between the service's threads: jobs, the present state, and requests.

The sequencer runs in the service's main thread. The threads that answer a socket read
`Snapshot`s (immutable) and make requests through `JobControl`; it never touches an instrument or a log that is written.
A job as the bytes of its file is JSON with a check sum, so that a flipped bit in a plan is seen.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from enum import StrEnum
from typing import Any, Literal, Protocol

from benchd.errors import BenchdError

WAITING = "waiting for the operator"
DOING = (
    "idle",  # nothing is due
    "held",  # a paused job keeps those behind it from starting; `Snapshot.why` names it
    "bench not ready",  # a part does not answer; tried again by itself, when is in `Snapshot.why`
    "opening the bench",
    "running",
    WAITING,  # for what is in `Snapshot.operator`
    "pausing",
    "stopping",
)
"""What a service is doing."""

AWAITED = (
    "move",  # of the meter, or of its cap, or the display's switch
    "set",  # a control of the display
    "show",  # the patch, on a source without a window
    "confirm",  # that it was done, where the light did not change
)
"""What the operator is awaited for."""

StepAnswer = Literal["next", "again", "skip"]
"""The operator's answer: it is done; it is done only now, so read again; this point of the sweep is left out."""


class JobState(StrEnum):
    """Where a job is."""

    QUEUED = "queued"  # waits for its turn, or for its not-before time
    RUNNING = "running"
    PAUSED = "paused"  # its log can be resumed; a resume puts it back into the queue
    COMPLETE = "complete"
    CANCELLED = "cancelled"
    FAILED = "failed"  # it can't go on as it is: the reason is in `why`


FINISHED = (JobState.COMPLETE, JobState.CANCELLED, JobState.FAILED)


@dataclass(frozen=True, slots=True)
class Submission:
    """A request to run a plan. ``plan_text`` and ``files`` are copies, so that later edits change nothing."""

    plan_name: str  # of its file, by which errors are placed; `Job.plan` has the plan's own
    plan_text: str
    files: Mapping[str, str] = field(default_factory=dict)
    sample: str = ""  # without a name its log is a sample of its own
    note: str = ""
    not_before: str = ""  # ISO 8601 with offset or Z; "" means at once
    priority: int = 0  # higher goes first; equal ones in the order of submission
    attended: bool = False  # an operator is present, to move the meter on request
    conditions: Mapping[str, str] = field(default_factory=dict)  # as entered, by their key


@dataclass(frozen=True, slots=True)
class Job:
    """A submission and its state."""

    id: str  # "j1", "j2" … never used twice
    submission: Submission
    state: JobState
    submitted: str  # wall-clock label
    log: str = ""  # path, once it was started
    why: str = ""  # why paused, failed or cancelled
    steps: int = 0
    steps_done: int = 0
    share_done: float = 0.0  # of its time, 0 to 1, when it was last on the bench
    simulated: bool = False  # a simulator is a part of its bench
    cautions: tuple[str, ...] = ()  # for the operator before it lights the screen, a sentence each
    move_to: str = ""  # the place that the operator must move the meter to before this job is resumed
    set_to: str = ""  # "control=value" that the operator must set on the display before this job is resumed
    plan: str = ""  # the plan's name, as the log and its results have it

    @property
    def plan_label(self) -> str:
        """The plan's name; of a job of an earlier version, its file."""
        return self.plan or self.submission.plan_name

    @property
    def waits_for_operator(self) -> bool:
        """True when the operator must do something before the job is resumed; the resume takes it as done."""
        return bool(self.move_to or self.set_to)


@dataclass(frozen=True, slots=True)
class LatestReading:
    """One of the last readings, for a plot."""

    number: int  # counts up over the life of the service
    wall: str
    step: str
    luminance_cd_m2: float | None
    x: float | None
    y: float | None
    status: str


@dataclass(frozen=True, slots=True)
class LatestFault:
    """One fault of the running job."""

    wall: str
    step: str
    error: str
    text: str
    then: str


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything that a page or a watcher shows, at one moment."""

    number: int  # counts up with every change
    wall: str
    bench: str
    simulated: bool
    doing: str  # one of DOING
    why: str = ""  # why nothing runs: which job holds the queue, or what of the bench does not answer
    job: Job | None = None  # the running one
    step: str = ""
    what: str = ""  # "code 166", "r2c3 white"
    patch: Mapping[str, object] = field(default_factory=dict)  # as in a `shown` record; width and height of the screen
    place: str = ""  # where the operator must move the meter, while that is requested
    at: tuple[float, float] = (0.5, 0.5)
    operator: str = ""  # what the operator is requested to do, a sentence: a move, the meter's cap, a setting
    awaited: str = ""  # one of AWAITED, while the operator is awaited
    again: str = ""  # what the operator may answer instead of yes, where something may not have been done: read again
    share_done: float = 0.0
    left_s: float | None = None  # bench time, minimum
    left_maximum_s: float | None = None  # maximum: more than that only while a warm-up is not over
    virtual_time: bool = False  # bench time runs ahead of the clock: the end is no time of day
    readings: tuple[LatestReading, ...] = ()  # the last ones, oldest first, at most 200
    faults: tuple[LatestFault, ...] = ()
    queue: tuple[Job, ...] = ()  # all jobs but the running one: queued first in their order, then the rest


class NotPossible(BenchdError):
    """That is not possible now; the sentence gives the reason (no such job, already complete …)."""


class JobControl(Protocol):
    """Requests to the service, from any thread. All raise `NotPossible` or an `InputError`."""

    def snapshot(self) -> Snapshot:
        """What is going on now."""

    def wait_for_change(self, after: int, seconds: float) -> Snapshot:
        """The first snapshot with a number above ``after``, or the present one when the time is over."""

    def submit(self, submission: Submission) -> Job:
        """Check the plan (`ProfileError` with every fault) and queue it, durable before it returns."""

    def cancel(self, job_id: str) -> Job:
        """Take a job out of the queue; a running one finishes its reading and stops."""

    def pause(self, job_id: str) -> Job:
        """A running job finishes its reading, shows black and pauses; a queued one is held."""

    def resume(self, job_id: str) -> Job:
        """Put a paused job back into the queue."""

    def next_move(self, answer: StepAnswer = "next") -> None:
        """The operator confirms the requested step: the meter stands there, or the display is set.

        ``again`` where a snapshot offers that; ``skip`` where a setting is awaited.
        """

    def stop(self) -> None:
        """Pause the running job and end the service; the queue stays on disk."""


VERSION = 1


def to_bytes(job: Job) -> bytes:
    """``{"benchd_job":1,"crc":"0a1b2c3d","job":{…}}`` and a newline; the CRC-32 is taken over the job's JSON."""
    body = json.dumps(asdict(job), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return f'{{"benchd_job":{VERSION},"crc":"{zlib.crc32(body.encode()):08x}","job":{body}}}\n'.encode()


def from_bytes(data: bytes) -> Job:
    """The job in a file. Raises ValueError with the reason."""
    head, mark, rest = data.partition(b',"job":')
    if not mark or not rest.endswith(b"}\n"):
        raise ValueError("it is not whole")
    body = rest[:-2]
    try:
        envelope = json.loads(head + b"}")
        version, crc = envelope["benchd_job"], envelope["crc"]
    except (ValueError, KeyError, TypeError):
        raise ValueError("its beginning is not that of a job") from None
    if version != VERSION:
        raise ValueError(f"it is of version {version}, and this benchd reads version {VERSION}")
    if crc != f"{zlib.crc32(body):08x}":
        raise ValueError("its check sum is wrong")
    return job_from(json.loads(body))


def job_from(value: Any) -> Job:
    """The job in parsed JSON, whole or brief (without plan text and files). Raises ValueError."""
    given = _object(value, "a job")
    submission = _object(given.get("submission"), "a submission")
    defaults = {"plan_text": "", "files": {}}
    try:
        sent = Submission(**{**defaults, **_known(Submission, submission)})
        state, to_heed = JobState(str(given.get("state"))), tuple(given.get("cautions", ()))
        return Job(**{**_known(Job, given), "submission": sent, "state": state, "cautions": to_heed})
    except TypeError as error:
        raise ValueError(f"it is not a job ({error})") from None


def snapshot_from(value: Any) -> Snapshot:
    """The snapshot in parsed JSON; unknown keys are passed over. Raises ValueError."""
    given = _object(value, "a snapshot")
    try:
        return Snapshot(
            **{
                **_known(Snapshot, given),
                "job": job_from(given["job"]) if given.get("job") else None,
                "at": tuple(given.get("at", (0.5, 0.5))),
                "readings": tuple(LatestReading(**_known(LatestReading, one)) for one in given.get("readings", ())),
                "faults": tuple(LatestFault(**_known(LatestFault, one)) for one in given.get("faults", ())),
                "queue": tuple(job_from(one) for one in given.get("queue", ())),
            }
        )
    except TypeError as error:
        raise ValueError(f"it is not a snapshot ({error})") from None


def _object(value: Any, what: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(f"{what} is missing")
    return value


def _known(shape: type, given: Mapping[str, Any]) -> dict[str, Any]:
    return {item.name: given[item.name] for item in fields(shape) if item.name in given}
