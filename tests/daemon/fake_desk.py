"""A desk without a bench: jobs in memory, snapshots made by hand. The bench, plans and figures are invented."""

from __future__ import annotations

import threading
from dataclasses import replace

from benchd.clock import Deadline, wall_label
from benchd.daemon.job_control import (
    Job,
    JobState,
    LatestFault,
    LatestReading,
    NotPossible,
    Snapshot,
    StepAnswer,
    Submission,
)
from benchd.errors import Fault, InputError, ProfileError

PLAN = "plan: quick\ntarget: srgb\nblocks:\n  - luminance: {}\n"
ENDED = (JobState.COMPLETE, JobState.CANCELLED, JobState.FAILED)


class FakeDesk:
    """Implements `benchd.daemon.job_control.JobControl`; ``asked`` lists what was asked of it."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.breaks = ""  # when set, every submission fails with an error that nobody foresaw
        self._changed = threading.Condition()
        self._snapshot = Snapshot(1, wall_label(), "lab-2", simulated=True, doing="idle")
        self.jobs = 0  # so many were submitted

    def snapshot(self) -> Snapshot:
        with self._changed:
            return self._snapshot

    def wait_for_change(self, after: int, seconds: float) -> Snapshot:
        deadline = Deadline.after(seconds)
        with self._changed:
            while self._snapshot.number <= after and not deadline.passed:
                self._changed.wait(deadline.left_s)
            return self._snapshot

    def put(self, **changes: object) -> Snapshot:
        """The next snapshot, with these changes."""
        with self._changed:
            number = self._snapshot.number + 1
            self._snapshot = replace(self._snapshot, number=number, wall=wall_label(), **changes)  # type: ignore[arg-type]
            self._changed.notify_all()
            return self._snapshot

    def restart(self) -> None:
        """As after a new start of the service: the numbers begin again."""
        with self._changed:
            self._snapshot = replace(self._snapshot, number=1)
            self._changed.notify_all()

    def submit(self, submission: Submission) -> Job:
        if self.breaks:
            raise KeyError(self.breaks)
        if "setle_s" in submission.plan_text:
            raise ProfileError((Fault(submission.plan_name, 2, 1, "unknown key 'setle_s'"),))
        if submission.not_before.startswith("2026-02-30"):
            raise InputError("there is no 30th of February; name another day")
        with self._changed:
            self.jobs += 1
            job = Job(f"j{self.jobs}", submission, JobState.QUEUED, wall_label())
            # Kept short, so that a fuzz run does not grow without end.
            self.put(queue=(*self._snapshot.queue, job)[-50:])
        self.asked.append(f"submit {submission.plan_name}")
        return job

    def cancel(self, job_id: str) -> Job:
        return self._turn(job_id, "cancel", JobState.CANCELLED, but=ENDED)

    def pause(self, job_id: str) -> Job:
        return self._turn(job_id, "pause", JobState.PAUSED, but=(*ENDED, JobState.PAUSED))

    def resume(self, job_id: str) -> Job:
        return self._turn(job_id, "resume", JobState.QUEUED, but=(*ENDED, JobState.QUEUED, JobState.RUNNING))

    def next_move(self, answer: StepAnswer = "next") -> None:
        self.asked.append(answer)
        if self.snapshot().doing != "waiting for the operator":
            raise NotPossible("the bench does not wait for the meter to be moved")
        if answer == "again" and not self.snapshot().again:
            raise NotPossible("nothing is offered to be read again at this moment")
        self.put(doing="running", place="", again="", awaited="")

    def stop(self) -> None:
        self.asked.append("stop")
        self.put(doing="stopping")

    def _turn(self, job_id: str, word: str, state: JobState, but: tuple[JobState, ...]) -> Job:
        self.asked.append(f"{word} {job_id}")
        with self._changed:
            now = self._snapshot
            [job] = [job for job in (*((now.job,) if now.job else ()), *now.queue) if job.id == job_id]
            if job.state in but:
                raise NotPossible(f"{job_id} is {job.state} and can't {word}")
            turned = replace(job, state=state)
            if job is now.job:
                self.put(job=None, doing="idle", step="", what="", queue=(turned, *now.queue))
            else:
                self.put(queue=tuple(turned if other is job else other for other in now.queue))
            return turned


def submission(name: str = "night", sample: str = "plover-27/1") -> Submission:
    """A submission of the invented scenario."""
    return Submission(name, PLAN, sample=sample)


def job(number: int, state: JobState, name: str = "night", why: str = "", done: int = 0) -> Job:
    """A job of the invented scenario."""
    log = "" if state is JobState.QUEUED else f"logs/plover-27-1/2026-03-02T1812{number:02d}-j{number}.log"
    return Job(f"j{number}", submission(name), state, "2026-03-02T18:12:03.000Z", log, why, 137, done)


def readings(count: int) -> tuple[LatestReading, ...]:
    """Readings of an invented display over a grayscale, some of them not ok."""
    made = []
    for number in range(1, count + 1):
        level = (number // 3) % 21 / 20
        luminance: float | None = 0.35 + 349.0 * level**2.2
        status = "ok"
        if number % 61 == 0:
            luminance, status = None, "over"
        elif number % 37 == 0:
            status = "unstable"
        elif level == 0 and number % 2:
            status = "under"
        step = f"grayscale/code-{round(255 * level)}"
        made.append(LatestReading(number, "2026-03-02T18:12:03.000Z", step, luminance, 0.3127, 0.3290, status))
    return tuple(made)


def fill(desk: FakeDesk) -> None:
    """A night under way: a running job, two waiting, one paused by a fault, one complete."""
    desk.jobs = 5
    pulled = "the port of the meter is gone (its cable?); plug it in and resume"
    desk.put(
        doing="running",
        job=job(3, JobState.RUNNING, done=56),
        step="grayscale/code-166",
        what="code 166",
        patch={
            "kind": "window",
            "code": [166, 166, 166],
            "bits": 8,
            "surround": [0, 0, 0],
            "area_percent": 10.0,
            "columns": 4,
            "rows": 4,
            "inverse": False,
            "at": [0.5, 0.5],
        },
        share_done=0.41,
        left_s=1080.0,
        left_maximum_s=1500.0,
        readings=readings(150),
        faults=(
            LatestFault("2026-03-02T18:20:41.000Z", "contrast/white", "MeterLateAnswer",
                      "the answer came 0.4 s after its deadline and was thrown away", "again"),
            LatestFault("2026-03-02T18:31:07.000Z", "grayscale/code-38", "ScreenDisturbed",
                      "another window covers the patch; close it", "again"),
        ),
        queue=(
            job(4, JobState.QUEUED, "sdr-standard"),
            job(5, JobState.QUEUED, "uniformity-grid"),
            job(2, JobState.PAUSED, "sdr-standard", pulled, 12),
            job(1, JobState.COMPLETE, "quick", done=137),
        ),
    )  # fmt: skip
