"""The loop: for each step that is not done, move, show, settle, read, and keep every record.

Plain blocking calls in one thread. There is no rewind and no second path for a restart: the state of a
run is what `fold` makes of its log, and a pause is nothing but leaving this loop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from itertools import repeat
from types import MappingProxyType

from benchd.clock import Deadline, StopRequest
from benchd.errors import (
    BenchdError,
    CompanionLost,
    ControlError,
    JournalError,
    LightChanged,
    MeterError,
    MoveNeeded,
    OperatorNeeded,
)
from benchd.instruments.control import PointSkipped
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import ATTENDED, CENTRE, Step
from benchd.plan.steps import REFERENCE
from benchd.plan.sweep import Point
from benchd.run.adaptive.interface import AdaptiveReading, adaptive_reading
from benchd.run.display import DisplaySettings
from benchd.run.light_monitor import LightMonitor, ReferenceCheck, Why
from benchd.run.log.bodies import fault_body, spot
from benchd.run.log.records import Body, RunState, advance
from benchd.run.operator_checks import Answer, OperatorChecks
from benchd.run.plausible import CHECK_SHARE, Bounds
from benchd.run.policy import Action, decide
from benchd.run.procedures.table import PROCEDURES, not_done
from benchd.run.procedures.warm_up_stability import HOUR_MIN
from benchd.run.rig import BLACK, Event, Log, Outcome, PanelProtection, Rig, SessionRig, StepRig, StopAsked

MOVE_WITHIN_S = 120.0
REST_BEFORE_RETRY_S = (1.0, 15.0)
"""After the first failed attempt, and after later ones: long enough for a notice over the window to go away
by itself, so that it does not end an unattended night."""

Work = Callable[[Step, int, int], None]
"""One attempt: at a step, with its index and the attempt's number."""


class Sequencer:
    """One run, or one more session of it."""

    def __init__(
        self,
        steps: Sequence[Step],
        state: RunState,
        rig: Rig,
        journal: Log,
        stop: StopRequest,
        warm_up: WarmUpLimits | None = None,
        *,
        ahead_min: float = HOUR_MIN,
        warm_up_again: bool = False,
        as_listed: bool = False,
        reference_again: bool = False,
        protection: PanelProtection | None = None,
        bounds: Bounds | None = None,
        adaptive: AdaptiveReading | None = None,
        operator: OperatorChecks | None = None,
        planned_s: Mapping[str, float] = MappingProxyType({}),
        watch: Callable[[Event], None] = lambda event: None,
    ) -> None:
        self._steps, self._state, self._rig = steps, state, rig
        self._operator = operator or OperatorChecks(())
        self._journal, self._stop, self._watch = journal, stop, watch
        # With an operator the meter is where the log states, first at the centre; where a mover stands is not known.
        self._manual_moves = rig.positioner.by == "operator"
        self._place: tuple[float, float] | None = (state.at or CENTRE) if self._manual_moves else None
        self._moved_to = state.move_to
        self._display = DisplaySettings(rig.controls, state, rig.clock, self._record, planned_s)
        self._monitor = LightMonitor(steps, state, bounds, rig.clock, self._record)
        self._warm_up_again, self._as_listed = warm_up_again, as_listed
        self._reference_again = reference_again  # drift is compensated, which is known within one session only
        self._repeated: set[Point] = set()  # points of a sweep whose reference was read again in this session
        self._protection = protection
        self._session = SessionRig(
            rig,
            stop,
            self._record,
            watch,
            len(steps),
            self._monitor,
            adaptive or adaptive_reading(steps, state),
            protection,
            warm_up or WarmUpLimits(0, 0, False),
            ahead_min,
        )

    def run(self) -> Outcome:
        """Do all steps that are not done. Raises only `JournalError`: the log itself failed."""
        total, state = len(self._steps), self._state
        again = True
        while again:  # what was invalidated is done again, from the first of it
            doubts, last = self._doubts, total
            for index, step in self._to_do():
                moves = self._manual_moves and self._place is not None and step.at != self._place
                outcome = self._look_again("leaving" if moves else "next", step, index)
                if outcome is None and self._doubts == doubts:
                    self._watch(Event("step", step, index, total))
                    outcome = self._until_done(step, index)
                if outcome is not None:
                    return self._paused(outcome, step, index)
                if self._doubts != doubts:
                    break
            else:
                outcome = self._look_again("closing", self._steps[-1], last) if self._steps else None
                if outcome is not None:
                    return self._paused(outcome, self._steps[-1], last)
            again = self._doubts != doubts
        if self._steps:
            self._leave(self._steps[-1], total)
        self._record("ended", "", 0, {"steps": total, "readings": state.readings, "faults": state.faults})
        return Outcome(True)

    def _paused(self, outcome: Outcome, step: Step, index: int) -> Outcome:
        self._leave(step, index)
        asked = {"move_to": outcome.move_to, "set_to": outcome.set_to}
        self._record("paused", outcome.step, 0, {"why": outcome.why, **asked})
        return outcome

    def _to_do(self) -> Iterator[tuple[int, Step]]:
        """What is not done, with its index from 1; first the warm-up again where the run stood still too long."""
        for index, step in enumerate(self._steps, start=1):
            due = not_done if self._as_listed else PROCEDURES[step.procedure].due
            for one in due(step, self._steps, self._state, again=self._warm_up_again):
                yield from zip(repeat(index), (*self._reference_before(one), one), strict=False)

    def _reference_before(self, step: Step) -> Iterator[Step]:
        """The reference of the step's point of a sweep, once a session, where an earlier session read it already.

        Bench time starts anew with every session, and meanwhile the display may have cooled down or the meter been put
        back.
        """
        done, here = self._state.done, step.settings
        if not self._reference_again or self._state.sessions < 2 or step.kind != "measure" or here in self._repeated:
            return
        first = next((one for one in self._steps if one.base == REFERENCE and one.settings == here), None)
        if first is None or first.at != step.at:
            return
        self._repeated.add(here)
        anew = replace(first, id=f"{first.id.rpartition('/')[0]}/again-{self._state.sessions}")
        if step.base != REFERENCE and first.id in done and anew.id not in done:
            yield anew

    def _leave(self, step: Step, index: int) -> None:
        """Black screen, and the display as it was found; what can't be put back is reported and kept."""
        with suppress(BenchdError):  # a screen that is gone is dark enough
            self._session.verify(BLACK)
        for text in self._display.restore():
            self._record("fault", "", 0, {"error": "NotRestored", "text": text, "then": "told"})
            self._watch(Event("note", step, index, len(self._steps), text=text))

    def _look_again(self, why: Why, step: Step, index: int) -> Outcome | None:
        """What is due before ``step``: prompts, reference checks. The outcome when the run must pause over it."""
        if (asked := self._ask_operator()) is not None:
            return asked
        if not PROCEDURES[step.procedure].is_result or not self._monitor.due(why):
            return None
        if not (references := self._monitor.within_reach(self._needs_no_hand)):
            return None

        def look(check: Step, index: int, attempt: int) -> None:
            found = {name: self._read_reference(name, one, index, attempt) for name, one in references.items()}
            self._monitor.compare(found, attempt)

        return self._until_done(next(iter(references.values())), index, look)

    @property
    def _doubts(self) -> int:
        return self._monitor.doubts + self._operator.taken_back

    def _ask_operator(self) -> Outcome | None:
        """Where the light did not follow the operator: was it set, was it moved? The answer is in the log."""
        if self._protection is not None and self._operator.doubt is not None:
            with suppress(BenchdError):
                self._session.put(BLACK)
        if (asked := self._operator.ask(self._state.reference_checks, self._stop, self._record)) is not None:
            doubt, answer = asked
            if answer is Answer.AGAIN:
                self._display.forget(doubt.control)
                self._place = self._place if doubt.control else None
            elif answer is Answer.YES and doubt.value is not None:
                self._display.confirm(doubt.control, doubt.value)
        return Outcome(False, self._stop.reason, asked=True) if self._stop.asked else None

    def _needs_no_hand(self, step: Step) -> bool:
        return (step.at == self._place or not self._manual_moves) and self._display.needs_no_operator(step)

    def _read_reference(self, name: str, reference: Step, index: int, attempt: int) -> ReferenceCheck:
        self._session.heed()
        self._session.sleep(self._display.reach(reference, attempt))
        if reference.at != self._place:
            self._move(reference, index, attempt)
        self._session.put(reference.patch)
        read = partial(self._session.read_unrecorded, reference.id)
        if reference.precision is None:
            self._session.sleep(reference.settle_s)
            found = ReferenceCheck([read(reference.integration_s) for _ in range(reference.readings)])
        else:
            disagree = partial(self._monitor.disagrees, name)
            found = self._session.adaptive.check(reference, CHECK_SHARE[name], read, disagree, self._session.sleep)
        self._session.verify(reference.patch)
        self._display.verify(reference)
        return found

    def _until_done(self, step: Step, index: int, work: Work | None = None) -> Outcome | None:
        """Attempt ``step`` (or ``work`` instead) until it is done; the outcome when the run must pause instead.

        Not done either when the light was another one; `LightMonitor.doubts` then counts one more.
        """
        tries = 0
        try:
            while True:
                tries += 1
                attempt = self._state.attempts.get(step.id, 0) + 1
                try:
                    (work or self._attempt)(step, index, attempt)
                    return None
                except PointSkipped:
                    self._skip(step, index)
                    return None
                except (StopAsked, JournalError):
                    raise
                except BenchdError as error:
                    pause = self._after_fault(error, step, index, attempt, tries)
                    # In another light nothing is tried again before a reference check: see `run`.
                    if pause is not None or isinstance(error, LightChanged):
                        return pause
        except StopAsked as asked:
            return Outcome(False, str(asked), step.id, asked=True)

    def _skip(self, step: Step, index: int) -> None:
        """The operator leaves the step's point of the sweep out: what is not done of it is not done."""
        left = [one.id for one in self._steps if one.settings == step.settings and one.id not in self._state.done]
        point = step.block.rpartition("/")[0]
        self._record("skipped", step.id, 0, {"point": point, "steps": left})
        text = f"{point} is left out, {len(left)} steps"
        self._watch(Event("skipped", step, index, len(self._steps), text=text))

    def _after_fault(self, error: BenchdError, step: Step, index: int, attempt: int, tries: int) -> Outcome | None:
        if isinstance(error, (MoveNeeded, OperatorNeeded)):
            # Waiting for the operator is no fault. After a stop instead, the resume prompts again.
            self._session.heed()
            setting = error.setting if isinstance(error, OperatorNeeded) else ""
            place = step.place if isinstance(error, MoveNeeded) else ""
            return Outcome(False, str(error), step.id, move_to=place, set_to=setting)
        if isinstance(error, LightChanged):  # one that keeps coming and going ends in a pause, wherever it falls
            tries = self._monitor.doubts + 1
        action = decide(error, tries)
        self._record("fault", step.id, attempt, fault_body(error, action))
        if isinstance(error, LightChanged):
            self._monitor.doubt(step.id, attempt, giving_up=action is Action.PAUSE)
        text = f"{error} [{action}]"
        self._watch(Event("fault", step, index, len(self._steps), text=text, error=error, then=action.value))
        if action is Action.REOPEN:
            try:
                if isinstance(error, MeterError):
                    self._rig.reopen_meter()
                else:
                    self._rig.reopen_screen()
                    self._session.patch = BLACK
            except BenchdError as again:
                self._record("fault", step.id, attempt, fault_body(again, Action.PAUSE))
                return Outcome(False, str(again), step.id)
            return None
        if isinstance(error, ControlError):
            self._display.forget()
        if action is Action.PAUSE:
            return Outcome(False, str(error), step.id)
        try:
            self._session.sleep(REST_BEFORE_RETRY_S[min(tries, len(REST_BEFORE_RETRY_S)) - 1])
        except CompanionLost as lost:
            return Outcome(False, str(lost), step.id)
        return None

    def _attempt(self, step: Step, index: int, attempt: int) -> None:
        self._session.heed()
        self._session.sleep(self._display.reach(step, attempt))
        if step.at != self._place:
            self._move(step, index, attempt)
        procedure = PROCEDURES[step.procedure]
        performed = procedure.perform(step, StepRig(self._session, step, index, attempt))
        body = performed.body
        if procedure.is_result:
            # The patch must still be there: a window that was covered meanwhile gives no reading.
            self._session.verify(step.patch)
            self._display.verify(step)
        if performed.judged:
            body = body | self._monitor.consider(step, performed.judged, settled=performed.settled)
        self._record("done", step.id, attempt, body)

    def _move(self, step: Step, index: int, attempt: int) -> None:
        self._watch(Event("move", step, index, len(self._steps), text=step.place))
        self._place = None
        # The pause before this session requested this move; the resume takes it as done.
        if self._moved_to != step.place or not self._manual_moves or step.place in ATTENDED:
            if self._manual_moves:
                self._session.put(spot(step, dim=self._protection is not None))
            self._rig.positioner.move(step.place, step.at, Deadline.after(MOVE_WITHIN_S))
        self._moved_to, self._place = "", step.at
        by = self._rig.positioner.by
        self._record("moved", step.id, attempt, {"place": step.place, "at": list(step.at), "by": by})

    def _record(self, kind: str, step: str, attempt: int, body: Body) -> None:
        record = self._journal.append(kind, step, attempt, body)
        self._operator.take(record)
        advance(self._state, record)
