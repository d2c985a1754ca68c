"""Steps for the operator while a job runs: prompt, wait for the confirmation, and give up after a while.

The session prompts, in the main thread; the confirmation comes from a client, in any other. One lock (the service's)
guards both.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial

from benchd.clock import Deadline
from benchd.daemon.job_control import WAITING, Job
from benchd.daemon.live_state import LiveState
from benchd.daemon.meter_place import PositionRecord
from benchd.daemon.notify import Notifier, WatchedStop
from benchd.errors import MoveNeeded, OperatorNeeded
from benchd.run.bench.attended import request
from benchd.run.operator_checks import ANSWER_WITHIN_S, Answer, Doubt, Operator

LOOK_EVERY_S = 5.0
"""At the latest, so that a wall clock that was set is noticed."""
NOT_ATTENDED = "the job was not submitted as attended, so wait until no job runs, do it and resume this one"

Call = Callable[[str, Job, str], None]
"""Calls the hooks: event, job, what is requested."""


class OperatorPrompt:
    """Prompts the operator for the running job. ``within_s``: how long it waits for an answer in an attended job."""

    def __init__(
        self,
        changed: threading.Condition,
        seen: LiveState,
        position: PositionRecord,
        notifier: Notifier,
        call: Call,
        within_s: float,
    ) -> None:
        self._changed, self._seen, self._position = changed, seen, position
        self._notifier, self._call, self._within_s = notifier, call, within_s
        self._waits = self._done = self._again = False

    def of(self, job: Job, stop: WatchedStop) -> Operator:
        """The operator of ``job``: moves the meter, sets the display where the job is attended, confirms."""
        setter = partial(self._set, job, stop) if job.submission.attended else None
        return Operator(stop, partial(self._move, job, stop), setter, partial(self._confirm, job, stop))

    def _move(self, job: Job, stop: WatchedStop, place: str, at: tuple[float, float]) -> None:
        """Have the meter moved, its cap put on, or the display switched off. Raises `MoveNeeded`."""
        wanted = request(place, at)
        if not job.submission.attended:
            raise MoveNeeded(f"{wanted}: {NOT_ATTENDED}")
        with self._changed:
            self._position.asked(place)
            if self._word_of(job, stop, "move", wanted, place, at):
                self._position.confirmed(place)
                return
        raise MoveNeeded(f"{wanted}, and resume: {self._nobody}")

    def _set(self, job: Job, stop: WatchedStop, sentence: str) -> None:
        """Have the display set. Raises `OperatorNeeded`."""
        wanted = sentence.rstrip(".")
        with self._changed:
            if self._word_of(job, stop, "set", wanted, "", None):
                return
        raise OperatorNeeded(f"{wanted}, and resume: {self._nobody}")

    def _confirm(self, job: Job, stop: WatchedStop, doubt: Doubt) -> Answer:
        """Have it confirmed that something was done, where the light did not change."""
        if not job.submission.attended:
            return Answer.NONE
        wanted = f"{doubt.note[:1].upper()}{doubt.note[1:]}. {doubt.question}"
        event = "move" if doubt.about == "move" else "set"
        with self._changed:
            if not self._word_of(job, stop, event, wanted, "", None, doubt.again):
                return Answer.NONE
            return Answer.AGAIN if self._again else Answer.YES

    def word(self, *, again: bool = False) -> bool:
        """Under the lock: the operator confirms that it is done. False when nothing is waited for."""
        self._done, self._again = self._waits, again
        self._changed.notify_all()
        return self._waits

    @property
    def _nobody(self) -> str:
        return f"not confirmed within {self._within_s / 60:.0f} min"

    def _word_of(
        self,
        job: Job,
        stop: WatchedStop,
        event: str,
        wanted: str,
        place: str,
        at: tuple[float, float] | None,
        again: str = "",
    ) -> bool:
        """Under the lock: wait for the confirmation. False when the job is to stop, or after the time.

        ``again``: the operator confirms that it was done, or answers this instead of yes.
        """
        deadline = Deadline.after(min(self._within_s, ANSWER_WITHIN_S) if again else self._within_s)
        self._waits, self._done = True, False
        say = f" Yes: `benchd next`; {again}: `benchd next --again`" if again else ", then `benchd next`"
        self._seen.be(WAITING, f"{wanted}{say}", place, at, wanted, again)
        self._call(event, job, wanted)
        self._changed.notify_all()
        while not self._done and not stop.asked and not deadline.passed:
            self._changed.wait(min(LOOK_EVERY_S, self._notifier.slice_s, deadline.left_s))
            self._notifier.alive()
        done, self._waits = self._done and not stop.asked, False
        self._seen.be("running" if done else "pausing")
        self._changed.notify_all()
        return done
