"""The service of one bench: it takes the jobs of a queue one after the other, and answers requests.

`run_forever` belongs to the main thread: the sequencer runs there. All else may be called from any thread; one
lock guards the queue and what was seen, and no instrument and no log is touched under it.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from benchd.clock import Deadline, wall_s
from benchd.daemon.attempt import Ending, JobOutcome, SessionHooks, Sessions, attempt, check
from benchd.daemon.folders import Places
from benchd.daemon.hooks import Hooks, message
from benchd.daemon.job_control import FINISHED, WAITING, Job, JobState, NotPossible, Snapshot, StepAnswer, Submission
from benchd.daemon.live_state import LiveState
from benchd.daemon.notify import Notifier, WatchedStop
from benchd.daemon.operator_prompt import CENTRE, LOOK_EVERY_S, OperatorPrompt, PositionRecord
from benchd.daemon.queue import Queue, QueueNotKept
from benchd.errors import BenchdError
from benchd.plan.offset_readings import SENTENCES
from benchd.report.words import count
from benchd.run.bench.open_bench import OpenBench
from benchd.run.job import BenchJob, PlanJob
from benchd.run.log.records import RunState
from benchd.run.rig import Event

RETRY_S = (30.0, 600.0)  # the first wait when the bench is not ready, and the longest
OPERATOR_WITHIN_S = 1800.0  # how long an attended job waits for the operator
MAX_QUEUED = 1000

logger = logging.getLogger("benchd.service")


@dataclass(frozen=True, slots=True)
class _Current:
    """The job that is on the bench."""

    job: Job
    stop: WatchedStop


class Service:
    """Implements `JobControl`. ``bench`` is the bench profile, read anew for every job that starts."""

    def __init__(
        self,
        bench: str,
        where: Places,
        queue: Queue,
        *,
        hooks: Hooks | None = None,
        notifier: Notifier | None = None,
        sessions: Sessions | None = None,
        retry_s: tuple[float, float] = RETRY_S,
        operator_within_s: float = OPERATOR_WITHIN_S,
        now_s: Callable[[], float] = wall_s,
    ) -> None:
        self._bench, self._where, self._queue = bench, where, queue
        self._hooks, self._notifier, self._sessions = hooks or Hooks(), notifier or Notifier(), sessions or Sessions()
        self._retry_s, self._now_s = retry_s, now_s
        self._profile = self._sessions.bench(bench)
        self._position = PositionRecord(queue.folder, self._profile)
        self._seen = LiveState(self._profile.bench.bench, self._profile.bench.is_simulated)
        self._changed = threading.Condition()
        self._prompt = OperatorPrompt(
            self._changed, self._seen, self._position, self._notifier, self._call_hooks, operator_within_s
        )
        self._snapshot: Snapshot | None = None
        self._current: _Current | None = None
        self._stopping = self._not_ready = ""
        self._wait_s = 0.0  # the present wait between two tries of a bench that is not ready
        self._again = Deadline.after(0.0)
        for sentence in queue.damaged:
            logger.error("job file left aside", extra={"facts": {"why": sentence}})

    # Requests, from any thread: see `JobControl`.

    def snapshot(self) -> Snapshot:
        with self._changed:
            return self._present()

    def wait_for_change(self, after: int, seconds: float) -> Snapshot:
        with self._changed:
            self._changed.wait_for(lambda: self._seen.number > after, seconds)
            return self._present()

    def submit(self, submission: Submission) -> Job:
        checked = check(submission, self._bench_now())
        with self._changed:
            if sum(job.state not in FINISHED for job in self._queue.jobs()) >= MAX_QUEUED:
                raise NotPossible(f"{MAX_QUEUED} jobs are queued already; wait for some, or cancel some")
            job = self._queue.add(
                *(checked.submission, checked.steps, checked.remark),
                simulated=checked.simulated,
                cautions=checked.cautions,
                plan=checked.plan,
            )
            self._tell("submitted", job)
            self._wake()
            return job

    def cancel(self, job_id: str) -> Job:
        with self._changed:
            job = self._unfinished(job_id)
            return self._decide(replace(job, state=JobState.CANCELLED, why="cancelled by the operator"))

    def pause(self, job_id: str) -> Job:
        with self._changed:
            job = self._unfinished(job_id)
            if job.state is JobState.PAUSED:
                raise NotPossible(f"job {job_id} is paused already")
            why = "paused by the operator" if self._is_current(job) else "held by the operator"
            return self._decide(replace(job, state=JobState.PAUSED, why=why))

    def resume(self, job_id: str) -> Job:
        """One that waits for the bench is tried at once."""
        with self._changed:
            job = self._unfinished(job_id)
            if self._is_current(job):
                on_its_way = job.state is not JobState.RUNNING
                raise NotPossible(f"job {job_id} {'is still pausing; resume it then' if on_its_way else 'is running'}")
            if job.state is JobState.PAUSED:
                self._take_word(job)
                job = self._queue.put(replace(job, state=JobState.QUEUED, why=""))
            self._again, self._wait_s = Deadline.after(0.0), 0.0
            self._tell("resumed", job)
            self._wake()
            return job

    def next_move(self, answer: StepAnswer = "next") -> None:
        with self._changed:
            if answer == "again" and not self._seen.now.again:
                raise NotPossible("nothing is offered to be read again at this moment")
            if answer == "skip" and self._seen.now.awaited != "set":
                raise NotPossible("no setting is awaited at this moment, so there is no point of a sweep to skip")
            if self._current is None and self._seen.now.place:
                self._position.confirmed(self._seen.now.place)
            elif not self._prompt.word(answer):
                raise NotPossible("no step of the operator is waited for at this moment")
            self._wake()

    def stop(self, reason: str = "a request to stop the service") -> None:
        with self._changed:
            self._stopping = self._stopping or reason
            if self._current is not None:
                self._current.stop.set(reason)
            self._seen.be("stopping")
            self._wake()

    # The loop, in the main thread.

    def run_forever(self) -> None:
        """Run due jobs until `stop` is called."""
        try:
            while (job := self._next()) is not None:
                self._run(job)
        finally:
            self._notifier.stopping()
            self._hooks.close()

    def _next(self) -> Job | None:
        """The next job, waited for; None when the service is to end."""
        with self._changed:
            while not self._stopping:
                unsaved = self._queue.save()
                if (job := self._choose()) is not None:
                    return job
                if unsaved:
                    self._seen.be(self._seen.now.doing, unsaved, self._seen.now.place)
                self._notifier.status(self._seen.now.why or self._seen.now.doing)
                self._changed.notify_all()
                self._changed.wait(self._idle_s())
                self._notifier.alive()
            return None

    def _choose(self) -> Job | None:
        """The job to run now; when there is none, the live state gives the reason."""
        if (job := self._queue.next_due(self._now_s())) is None:
            self._seen.be("idle")
            return None
        holder = self._queue.holder()
        if holder is not None and not job.log:
            self._seen.be(
                "held",
                f"job {holder.id} is paused ({holder.why.rstrip('.')}), and those behind it wait; "
                f"resume it with `benchd resume {holder.id}`, or cancel it",
            )
            return None
        if self._not_ready and not self._again.passed:
            self._seen.be("bench not ready", self._not_ready)
            return None
        if self._position.must_go_to_centre(job):
            why = f"{self._position.stands}, and job {job.id} begins with the meter at the centre"
            back = self._position.back
            self._seen.be(WAITING, f"{why}: {back}, then `benchd next`", CENTRE, operator=back, awaited="move")
            return None
        return job

    def _idle_s(self) -> float:
        """How long nothing will be due."""
        due_s = self._queue.next_due_s()
        waits = [LOOK_EVERY_S, self._notifier.slice_s]
        if due_s is not None:
            waits.append(due_s - self._now_s() if due_s > self._now_s() else LOOK_EVERY_S)
        if self._not_ready:
            waits.append(self._again.left_s)
        return max(0.01, min(waits))

    def _run(self, job: Job) -> None:
        log = Path(job.log) if job.log else self._where.new_log(job.id, job.submission.sample)
        stop = WatchedStop(self._notifier.alive, self._notifier.slice_s)
        watch = SessionHooks(self._prompt.of(job, stop), self._opened, self._event)
        with self._changed:
            if self._stopping:
                return
            self._seen.begin()
            try:
                self._queue.put(replace(job, state=JobState.RUNNING, log=str(log), why=""))
            except QueueNotKept as error:
                self._put_off(job, str(error))
                return
            self._current = _Current(job, stop)
            self._tell("begins", self._queue.get(job.id))
            self._wake()
        self._notifier.status(f"running {job.id}, plan {job.plan_label}")
        outcome = attempt(job, log, self._bench, watch, self._sessions)
        with self._changed:
            self._settle(job, str(log) if job.log or watch.began else "", outcome)
            self._wake()

    def _settle(self, before: Job, log: str, outcome: JobOutcome) -> None:
        """Keep the outcome of the job; an operator's request of meanwhile outweighs all but its completion."""
        kept = self._queue.get(before.id)
        simulated, done = self._seen.simulated, self._seen.state.steps_done or before.steps_done
        share = self._seen.share_done or before.share_done
        self._current = None
        self._seen.end()
        if outcome.ending is Ending.NOT_READY and kept.state is JobState.RUNNING:
            self._put_off(before, outcome.why)
            return
        self._not_ready, self._wait_s = "", 0.0
        after = replace(kept, state=outcome.state, log=log, why=outcome.why, steps_done=done, share_done=share)
        after = replace(after, move_to=outcome.move_to, set_to=outcome.set_to, simulated=kept.simulated or simulated)
        if outcome.ending is Ending.ASKED and kept.state is JobState.RUNNING:
            after = replace(after, why=f"goes on with the next start of the service; it was stopped by {outcome.why}")
        elif outcome.ending is Ending.COMPLETE:
            left_out = len(self._seen.state.skipped)
            why = f"{count(left_out, 'step')} skipped by the operator" if left_out else ""
            after = replace(after, why=why, steps_done=after.steps - left_out, share_done=1.0)
        elif kept.state is JobState.CANCELLED or outcome.ending in (Ending.ASKED, Ending.NOT_READY):
            after = replace(after, state=kept.state, why=kept.why, move_to="", set_to="")
        if disk := self._queue.note(after):
            logger.error("queue not kept", extra={"facts": {"why": disk}})
        self._tell(after.state.value, after)
        if after.state is not JobState.QUEUED:
            self._call_hooks(after.state.value, after, after.why, simulated)

    def _put_off(self, job: Job, why: str) -> None:
        """The bench did not open: the job is as it was, and is tried again later, ever more seldom."""
        minimum_s, maximum_s = self._retry_s
        self._wait_s = min(maximum_s, 2.0 * self._wait_s) if self._wait_s else minimum_s
        self._again = Deadline.after(self._wait_s)
        text = f"{why.rstrip('.')}; tried again after {self._wait_s:.0f} s, or at once with `benchd resume {job.id}`"
        self._queue.note(replace(job, state=JobState.QUEUED))
        logger.warning("bench not ready", extra={"facts": {"job": job.id, "why": text}})
        if not self._not_ready:
            self._call_hooks("not ready", job, why)
        self._not_ready = text

    # Callbacks of the session, in the main thread.

    def _opened(self, bench: OpenBench, job: PlanJob, state: RunState) -> None:
        with self._changed:
            self._not_ready = ""
            self._position.manual_moves = bench.positioner.by == "operator"
            self._seen.opened(bench, job, state)
            self._wake()
        self._notifier.alive()

    def _event(self, event: Event) -> None:
        with self._changed:
            self._seen.event(event)
            self._wake()
        if event.kind == "fault":
            logger.warning("fault", extra={"facts": {"step": event.step.id, "text": event.text}})
        if event.kind == "skipped":
            logger.info("point skipped", extra={"facts": {"text": event.text}})
        self._notifier.alive()
        self._notifier.status(f"{event.step.id}, step {event.index} of {event.total}")

    def _bench_now(self) -> BenchJob:
        """The bench profile as a job that starts now would find it; as it was, when it can't be read."""
        try:
            return self._sessions.bench(self._bench)
        except BenchdError:
            return self._profile

    # Under the lock.

    def _decide(self, job: Job) -> Job:
        """Keep the operator's request at once, so that no crash loses it, and stop the job where it runs."""
        job = self._queue.put(job)
        if self._is_current(job) and self._current is not None:
            self._current.stop.set(job.why)
            self._seen.be("pausing")
            self._tell("stops", job)  # it is paused or cancelled when the run has ended, which is told then
        else:
            self._tell(job.state.value, job)
        self._wake()
        return job

    def _unfinished(self, job_id: str) -> Job:
        job = self._queue.get(job_id)
        if job.state in FINISHED:
            raise NotPossible(f"job {job_id} is {job.state.value} already")
        return job

    def _is_current(self, job: Job) -> bool:
        return self._current is not None and self._current.job.id == job.id

    def _take_word(self, job: Job) -> None:
        """The resume of a job that waits for the operator takes it as done; refused while another one measures."""
        if not job.waits_for_operator:
            return
        if self._current is not None:
            wanted = f"set {job.set_to}"
            if job.move_to:
                wanted = SENTENCES.get(job.move_to, f"move the meter to {job.move_to}")
            raise NotPossible(
                f"job {self._current.job.id} is measuring, and nothing may be moved or set; wait for it or pause it, "
                f"then {wanted[0].lower()}{wanted[1:]} and resume {job.id}"
            )
        if job.move_to:
            self._position.confirmed(job.move_to)

    def _present(self) -> Snapshot:
        if self._snapshot is None or self._snapshot.number != self._seen.number:
            current = self._current.job.id if self._current else ""
            jobs = self._queue.jobs()
            if (running := next((job for job in jobs if job.id == current), None)) is not None:
                running = self._seen.running(running)
            self._snapshot = self._seen.snapshot(running, tuple(job for job in jobs if job.id != current))
        return self._snapshot

    def _wake(self) -> None:
        self._seen.changed()
        self._changed.notify_all()

    def _tell(self, event: str, job: Job) -> None:
        facts = {"job": job.id, "plan": job.plan_label, "log": job.log, "why": job.why}
        logger.info(f"job {event}", extra={"facts": facts})

    def _call_hooks(self, event: str, job: Job, why: str, simulated: bool | None = None) -> None:
        simulated = self._seen.simulated if simulated is None else simulated
        self._hooks.call(message(event, self._profile.bench.bench, job, why, simulated))
