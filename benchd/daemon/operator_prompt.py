"""The operator's part in a job: prompt, wait for the confirmation, give up after a while; and where the meter stands.

The session prompts, in the main thread; the confirmation comes from a client, in any other. One lock (the service's)
guards both. Where the operator has put the meter is kept on disk: the next job must not assume that it is at the
centre.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import NamedTuple

from benchd.clock import Deadline
from benchd.daemon.attempt import check
from benchd.daemon.job_control import WAITING, Job, StepAnswer
from benchd.daemon.live_state import LiveState
from benchd.daemon.notify import Notifier, WatchedStop
from benchd.daemon.queue import Disk
from benchd.errors import InputError, MoveNeeded, OperatorNeeded
from benchd.instruments.control import PointSkipped
from benchd.plan.offset_readings import BACK, SENTENCES
from benchd.plan.step import CAPPED, SCREEN_OFF
from benchd.run.bench.attended import request
from benchd.run.job import BenchJob
from benchd.run.operator_checks import ANSWER_WITHIN_S, Answer, Doubt, Operator

CENTRE = "centre"
"""The place where a meter stands that was never moved, as the steps of a plan name it."""

_CAP, _OFF = "the cap is on the meter", "the display was switched off"
_STANDS = {CAPPED: _CAP, SCREEN_OFF: _OFF, BACK[CAPPED]: _CAP, BACK[SCREEN_OFF]: _OFF}

logger = logging.getLogger("benchd.service")


class PositionRecord:
    """The place of the last manual move, of this service or of the one before it, in ``folder``."""

    def __init__(self, folder: Path, bench: BenchJob, disk: Disk | None = None) -> None:
        self.manual_moves = bench.bench.manual_moves
        self.place = CENTRE
        self._path, self._bench, self._disk = folder / "meter-place", bench, disk or Disk()
        self._roaming: dict[str, bool] = {}
        with suppress(OSError, UnicodeDecodeError):
            self.place = self._path.read_text("utf-8").strip() or CENTRE

    def asked(self, place: str) -> None:
        """The operator was requested to move the meter: from now on it may be anywhere."""
        self._keep(place if place != CENTRE else f"on its way to the {CENTRE}")

    def confirmed(self, place: str) -> None:
        """The meter stands at ``place``; without its cap again, or before a display that is on again, at the centre."""
        self._keep(CENTRE if place in BACK.values() else place)

    @property
    def stands(self) -> str:
        """Where it was left, as the begin of a sentence."""
        return _STANDS.get(self.place) or f"the meter was moved to {self.place}"

    @property
    def back(self) -> str:
        """What the operator is requested to do before the next job, as a sentence without its full stop."""
        return SENTENCES.get(BACK.get(self.place, self.place), "Move the meter to the centre of the screen")

    def must_go_to_centre(self, job: Job) -> bool:
        """True when ``job`` would begin where the meter does not stand.

        A run that goes on away from the centre requests its place by itself, and a resume of one that waits
        for a move confirms that the meter is there.
        """
        if not self.manual_moves or self.place == CENTRE or job.move_to:
            return False
        return not job.log or not self._roams(job)

    def _roams(self, job: Job) -> bool:
        if job.id not in self._roaming:
            try:
                self._roaming[job.id] = check(job.submission, self._bench).roams
            except InputError:
                return True  # it can't run at all, and will report why
        return self._roaming[job.id]

    def _keep(self, place: str) -> None:
        if place == self.place:
            return
        self.place = place
        fresh = self._path.with_name(".meter-place.new")
        try:
            self._disk.write(fresh, f"{place}\n".encode())
            self._disk.rename(fresh, self._path)
            self._disk.sync_folder(self._path.parent)
        except OSError as error:
            logger.error("place of the meter not kept", extra={"facts": {"place": place, "why": str(error)}})


LOOK_EVERY_S = 5.0
"""At the latest, so that a wall clock that was set is noticed."""
NOT_ATTENDED = "the job was not submitted as attended, so wait until no job runs, do it and resume this one"

Call = Callable[[str, Job, str], None]
"""Calls the hooks: event, job, what is requested."""


class _Request(NamedTuple):
    """One prompt; ``event`` is that of the hooks, the rest as in a `Snapshot`."""

    awaited: str
    event: str
    wanted: str
    place: str = ""
    at: tuple[float, float] | None = None
    again: str = ""


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
        self._waits = False
        self._answer: StepAnswer | None = None

    def of(self, job: Job, stop: WatchedStop) -> Operator:
        """The operator of ``job``: moves the meter, sets the display where the job is attended, confirms."""
        move, confirm = partial(self._move, job, stop), partial(self._confirm, job, stop)
        if not job.submission.attended:
            return Operator(stop, move, confirm=confirm)
        ask = partial(self._set, job, stop)
        return Operator(stop, move, partial(ask, "set"), partial(ask, "show"), confirm)

    def _move(self, job: Job, stop: WatchedStop, place: str, at: tuple[float, float]) -> None:
        """Have the meter moved, its cap put on, or the display switched off. Raises `MoveNeeded`."""
        wanted = request(place, at)
        if not job.submission.attended:
            raise MoveNeeded(f"{wanted}: {NOT_ATTENDED}")
        with self._changed:
            self._position.asked(place)
            if self._answer_to(job, stop, _Request("move", "move", wanted, place, at)):
                self._position.confirmed(place)
                return
        raise MoveNeeded(f"{wanted}, and resume: {self._nobody}")

    def _set(self, job: Job, stop: WatchedStop, awaited: str, sentence: str) -> None:
        """Have the display set, or a patch shown. Raises `OperatorNeeded`, or `PointSkipped`."""
        wanted = sentence.rstrip(".")
        with self._changed:
            answer = self._answer_to(job, stop, _Request(awaited, "set", wanted))
        if answer == "skip":
            raise PointSkipped(wanted)
        if answer:
            return
        raise OperatorNeeded(f"{wanted}, and resume: {self._nobody}")

    def _confirm(self, job: Job, stop: WatchedStop, doubt: Doubt) -> Answer:
        """Have it confirmed that something was done, where the light did not change."""
        if not job.submission.attended:
            return Answer.NONE
        wanted = f"{doubt.note[:1].upper()}{doubt.note[1:]}. {doubt.question}"
        event = "move" if doubt.about == "move" else "set"
        with self._changed:
            answer = self._answer_to(job, stop, _Request("confirm", event, wanted, again=doubt.again))
        return {None: Answer.NONE, "again": Answer.AGAIN}.get(answer, Answer.YES)

    def word(self, answer: StepAnswer) -> bool:
        """Under the lock: the operator's answer. False when nothing is waited for."""
        self._answer = answer if self._waits else None
        self._changed.notify_all()
        return self._waits

    @property
    def _nobody(self) -> str:
        return f"not confirmed within {self._within_s / 60:.0f} min"

    def _answer_to(self, job: Job, stop: WatchedStop, request: _Request) -> StepAnswer | None:
        """Under the lock: wait for the answer. None when the job is to stop, or after the time.

        With ``again`` the operator confirms that it was done, or answers that instead of yes.
        """
        awaited, event, wanted, place, at, again = request
        deadline = Deadline.after(min(self._within_s, ANSWER_WITHIN_S) if again else self._within_s)
        self._waits, self._answer = True, None
        say = f" Yes: `benchd next`; {again}: `benchd next --again`" if again else ", then `benchd next`"
        say += " (to skip this point: `benchd next --skip`)" if awaited == "set" else ""
        self._seen.be(WAITING, f"{wanted}{say}", place, at, wanted, again, awaited)
        self._call(event, job, wanted)
        self._changed.notify_all()
        while self._answer is None and not stop.asked and not deadline.passed:
            self._changed.wait(min(LOOK_EVERY_S, self._notifier.slice_s, deadline.left_s))
            self._notifier.alive()
        answer, self._waits = None if stop.asked else self._answer, False
        self._seen.be("running" if answer else "pausing")
        self._changed.notify_all()
        return answer
