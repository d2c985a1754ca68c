"""The loop: for each step that is not done, move, show, settle, read, and keep every record.

Plain blocking calls in one thread. There is no rewind and no second path for a restart: the state of a
run is what `fold` makes of its log, and a pause is nothing but leaving this loop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from itertools import repeat
from typing import Literal

from benchd.clock import Deadline, StopRequest
from benchd.errors import (
    BenchdError,
    CompanionLost,
    ControlError,
    HandNeeded,
    JournalError,
    LightChanged,
    MeterError,
    MoveNeeded,
)
from benchd.instruments.meter import Reading, ReadRequest
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import ATTENDED, CENTRE, Step
from benchd.run.adaptive.learned import Learned
from benchd.run.adaptive.precise_step import Precise, Readers
from benchd.run.consecutive import read_on, warm_ups
from benchd.run.display import DisplaySettings
from benchd.run.light_monitor import LightMonitor, ReferenceCheck, Why
from benchd.run.log.bodies import fault_body, reading_body, shown_body, spot
from benchd.run.log.records import CONSECUTIVE, Body, RunState, advance
from benchd.run.on_screen import BLACK, SHOW_WITHIN_S, OnScreen
from benchd.run.operator_checks import OperatorChecks
from benchd.run.plausible import CHECK_SHARE, Bounds
from benchd.run.policy import Action, decide
from benchd.run.reference_again import ReferenceAgain
from benchd.run.rig import Event, Log, Outcome, PanelProtection, Rig
from benchd.run.series import dark_before, read_series
from benchd.run.warm_up import warmed_up
from benchd.run.warm_up_trend import HOUR_MIN

READ_WITHIN_S = 180.0
MOVE_WITHIN_S = 120.0
REST_BEFORE_RETRY_S = (1.0, 15.0)
"""After the first failed attempt, and after later ones: long enough for a notice over the window to go away
by itself, so that it does not end an unattended night."""

Work = Callable[[Step, int, int], None]
"""One attempt: at a step, with its index and the attempt's number."""


class _Asked(BenchdError):
    """The operator asked to stop; not a fault."""


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
        consecutive: bool = True,
        reference_again: bool = False,
        care: PanelProtection | None = None,
        bounds: Bounds | None = None,
        precise: Readers | None = None,
        operator: OperatorChecks | None = None,
        watch: Callable[[Event], None] = lambda event: None,
    ) -> None:
        self._steps, self._state, self._rig = steps, state, rig
        self._operator = operator or OperatorChecks(())
        self._journal = self._operator.log(journal) if operator else journal
        self._stop = stop
        self._warm_up = warm_up
        self._ahead_min = ahead_min  # for how long the warm-up judges what is to come
        self._watch = watch
        self._screen = OnScreen(rig, stop, self._heed)
        # A hand leaves the meter where the log says, and begins at the centre; where a mover stands nobody knows.
        by_hand = rig.positioner.by == "hand"
        self._place: tuple[float, float] | None = (state.at or CENTRE) if by_hand else None
        self._moved_to = state.move_to
        self._display = DisplaySettings(rig.controls, state, rig.clock, self._record)
        self._witness = LightMonitor(steps, state, bounds, rig.clock, self._record)
        self._warm_up_again, self._consecutive = warm_up_again, consecutive
        self._reference_again = ReferenceAgain(steps, state, wanted=reference_again)
        self._care = care
        self._precise = precise or Precise(steps, state, Learned())

    def run(self) -> Outcome:
        """Do all steps that are not done. Raises only `JournalError`: the log itself failed."""
        total, state = len(self._steps), self._state
        again = True
        while again:  # what is in doubt is to be done again, from the first of it
            doubts, last = self._doubts, total
            for index, step in self._to_do():
                outcome = self._look_again("leaving" if self._is_manual_move(step) else "next", step, index)
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
        body = {"why": outcome.why, "move_to": outcome.move_to, "set_to": outcome.set_to}
        self._record("paused", outcome.step, 0, body)
        return outcome

    def _to_do(self) -> Iterator[tuple[int, Step]]:
        """What is not done, with its index from 1; first the warm-up again where the run stood still too long."""
        for index, step in enumerate(self._steps, start=1):
            if step.kind == "warm_up" and self._consecutive:
                again = self._warm_up_again
                yield from zip(repeat(index), warm_ups(step, self._steps, self._state, again=again), strict=False)
            elif step.id not in self._state.done:
                yield from zip(repeat(index), (*self._reference_again.before(step), step), strict=False)

    def _leave(self, step: Step, index: int) -> None:
        """Black screen, and the display as it was found; what can't be put back is told and kept."""
        self._blank()
        for text in self._display.restore():
            self._record("fault", "", 0, {"error": "NotRestored", "text": text, "then": "told"})
            self._watch(Event("note", step, index, len(self._steps), text=text))

    def _is_manual_move(self, step: Step) -> bool:
        return self._rig.positioner.by == "hand" and self._place is not None and step.at != self._place

    def _look_again(self, why: Why, step: Step, index: int) -> Outcome | None:
        """What is due before ``step``: the operator, the anchors. The outcome when the run must pause over it."""
        if (asked := self._ask_operator()) is not None:
            return asked
        if step.kind == "warm_up" or not self._witness.due(why):
            return None
        anchors = self._witness.within_reach(self._needs_no_hand)
        if not anchors:
            return None

        def look(check: Step, index: int, attempt: int) -> None:
            found = {name: self._read_reference(name, anchor, index, attempt) for name, anchor in anchors.items()}
            self._witness.compare(found, attempt)

        return self._until_done(next(iter(anchors.values())), index, look)

    @property
    def _doubts(self) -> int:
        return self._witness.doubts + self._operator.taken_back

    def _ask_operator(self) -> Outcome | None:
        """Where the light did not follow the operator: was it set, was it moved? The answer is in the log."""
        if self._care is not None and self._operator.doubt is not None:
            with suppress(BenchdError):
                self._screen.put(BLACK)
        if (doubt := self._operator.ask(self._state.anchors, self._stop, self._record)) is not None:
            self._display.forget(doubt.control)
            self._place = self._place if doubt.control else None
        return Outcome(False, self._stop.reason, asked=True) if self._stop.asked else None

    def _needs_no_hand(self, step: Step) -> bool:
        there = step.at == self._place or self._rig.positioner.by != "hand"
        return there and self._display.needs_no_operator(step)

    def _read_reference(self, name: str, anchor: Step, index: int, attempt: int) -> ReferenceCheck:
        self._heed()
        self._sleep(self._display.reach(anchor, attempt))
        if anchor.at != self._place:
            self._move(anchor, index, attempt)
        self._screen.put(anchor.patch)
        if anchor.precision is None:
            self._sleep(anchor.settle_s)
            found = ReferenceCheck([self._unkept(anchor.id, anchor.integration_s) for _ in range(anchor.readings)])
        else:
            read, disagree = partial(self._unkept, anchor.id), partial(self._witness.disagrees, name)
            found = self._precise.check(anchor, CHECK_SHARE[name], read, disagree, self._sleep)
        self._rig.screen.show(anchor.patch, Deadline.after(SHOW_WITHIN_S))
        self._display.verify(anchor)
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
                except (_Asked, JournalError):
                    raise
                except BenchdError as error:
                    pause = self._after_fault(error, step, index, attempt, tries)
                    # In another light nothing is tried again before the anchors were looked at: see `run`.
                    if pause is not None or isinstance(error, LightChanged):
                        return pause
        except _Asked as asked:
            return Outcome(False, str(asked), step.id, asked=True)

    def _after_fault(self, error: BenchdError, step: Step, index: int, attempt: int, tries: int) -> Outcome | None:
        if isinstance(error, (MoveNeeded, HandNeeded)):
            # A hand that is waited for is no fault. Whoever chose to stop instead is asked again by the resume.
            self._heed()
            setting = error.setting if isinstance(error, HandNeeded) else ""
            place = step.place if isinstance(error, MoveNeeded) else ""
            return Outcome(False, str(error), step.id, move_to=place, set_to=setting)
        if isinstance(error, LightChanged):  # one that keeps coming and going ends in a pause, wherever it falls
            tries = self._witness.doubts + 1
        action = decide(error, tries)
        self._record("fault", step.id, attempt, fault_body(error, action))
        if isinstance(error, LightChanged):
            self._witness.doubt(step.id, attempt, giving_up=action is Action.PAUSE)
        text = f"{error} [{action}]"
        self._watch(Event("fault", step, index, len(self._steps), text=text, error=error, then=action.value))
        if action is Action.REOPEN:
            try:
                if isinstance(error, MeterError):
                    self._rig.reopen_meter()
                else:
                    self._rig.reopen_screen()
                    self._screen.patch = BLACK
            except BenchdError as again:
                self._record("fault", step.id, attempt, fault_body(again, Action.PAUSE))
                return Outcome(False, str(again), step.id)
            return None
        if isinstance(error, ControlError):
            self._display.forget()
        if action is Action.PAUSE:
            return Outcome(False, str(error), step.id)
        try:
            self._sleep(REST_BEFORE_RETRY_S[min(tries, len(REST_BEFORE_RETRY_S)) - 1])
        except CompanionLost as lost:
            return Outcome(False, str(lost), step.id)
        return None

    def _attempt(self, step: Step, index: int, attempt: int) -> None:
        self._heed()
        self._sleep(self._display.reach(step, attempt))
        if step.at != self._place:
            self._move(step, index, attempt)
        if step.kind == "warm_up":
            body = self._warm(step, index, attempt)
        else:
            body = self._measure(step, index, attempt) if step.series is None else self._series(step, index, attempt)
        self._record("done", step.id, attempt, body)

    def _move(self, step: Step, index: int, attempt: int) -> None:
        self._watch(Event("move", step, index, len(self._steps), text=step.place))
        self._place = None
        # The pause before this session asked for this move; the resume is the operator's word that it is done.
        if self._moved_to != step.place or self._rig.positioner.by != "hand" or step.place in ATTENDED:
            if self._rig.positioner.by == "hand":
                self._screen.put(spot(step, dim=self._care is not None))
            self._rig.positioner.move(step.place, step.at, Deadline.after(MOVE_WITHIN_S))
        self._moved_to = ""
        self._place = step.at
        body = {"place": step.place, "at": list(step.at), "by": self._rig.positioner.by}
        self._record("moved", step.id, attempt, body)

    def _measure(self, step: Step, index: int, attempt: int) -> Body:
        def read(step: Step, number: int) -> Reading:
            self._heed()
            self._rest_panel(step, attempt)
            return self._read(step, index, attempt, number)

        more: Body = {}
        if step.precision is None:
            self._show(step, attempt)
            self._sleep(step.settle_s)
            readings = [read(step, number) for number in range(1, step.readings + 1)]
        else:
            self._lead_in(index)
            self._show(step, attempt)
            settling = partial(self._record, "settled", step.id, attempt)
            readings, more = self._precise.read(step, index, read, settling, self._sleep)
        # The patch must still be there: a window that was covered meanwhile gives no reading.
        self._rig.screen.show(step.patch, Deadline.after(SHOW_WITHIN_S))
        self._display.verify(step)
        settled = bool(more.get("precision", {}).get("settled", True))
        return {"readings": len(readings), **more, **self._witness.consider(step, readings, settled=settled)}

    def _lead_in(self, index: int) -> None:
        wanted = self._precise.lead_in(index)
        if wanted is not None and wanted[0] != self._screen.patch:
            self._screen.put(wanted[0])
            self._sleep(wanted[1])

    def _series(self, step: Step, index: int, attempt: int) -> Body:
        """Readings from the moment the patch is on; what changes in them is the result, so none is held against it."""
        assert step.series is not None
        self._screen.put(dark_before(step, step.series))
        self._sleep(step.series.black_s)
        self._show(step, attempt)

        def read(number: int, began_s: float) -> Reading:
            self._heed()
            return self._read(step, index, attempt, number, began_s)

        number = read_series(step.series, self._rig.clock, read, self._sleep)
        self._rig.screen.show(step.patch, Deadline.after(SHOW_WITHIN_S))
        self._display.verify(step)
        return {"readings": number}

    def _rest_panel(self, step: Step, attempt: int) -> None:
        """Show black for a while when an emissive panel has shown one bright patch long enough."""
        lit_s = self._screen.lit_s
        if self._care is None or lit_s < self._care.bright_at_most_s:
            return
        self._screen.put(BLACK)
        self._sleep(self._care.rest_s)
        self._screen.put(step.patch)
        self._record("rested", step.id, attempt, {"lit_s": round(lit_s, 3), "rest_s": self._care.rest_s})
        self._sleep(step.settle_s)

    def _warm(self, step: Step, index: int, attempt: int) -> Body:
        self._show(step, attempt)

        def read(number: int) -> Reading:
            self._heed()
            reading = self._read(step, index, attempt, number)
            self._witness.consider(step, [reading])
            return reading

        if step.id == CONSECUTIVE:
            self._sleep(step.settle_s)
            return read_on(read, self._rig.clock.now_s)
        rule = self._warm_up or WarmUpLimits(0, 0, False)

        def characterisation_s(minute: int, light: float) -> float:
            return self._precise.characterised_s(
                step, minute, light, rule, self._screen.put, partial(self._unkept, step.id)
            )

        body, light = warmed_up(rule, self._ahead_min, read, characterisation_s, self._sleep, self._rig.clock.now_s)
        return body | self._precise.warmed(step.id, light)

    def _show(self, step: Step, attempt: int) -> None:
        started_s = self._rig.clock.now_s()
        shown = self._screen.put(step.patch)
        body = shown_body(step, shown, self._rig.clock.now_s() - started_s)
        self._record("shown", step.id, attempt, body)

    def _read(self, step: Step, index: int, attempt: int, number: int, began_s: float | None = None) -> Reading:
        """One reading, kept; ``began_s``: when its series began."""
        request = ReadRequest(step.id, number, step.integration_s)
        after_s = None if began_s is None else round(self._rig.clock.now_s() - began_s, 6)
        reading = self._rig.meter.read(request, Deadline.after(READ_WITHIN_S))
        if after_s is not None and reading.after_s is None:
            reading = replace(reading, after_s=after_s)
        self._record("reading", step.id, attempt, reading_body(number, reading))
        kind: Literal["warm_up", "reading"] = "warm_up" if step.kind == "warm_up" else "reading"
        self._watch(Event(kind, step, index, len(self._steps), reading))
        return reading

    def _unkept(self, name: str, integration_s: float | None) -> Reading:
        """One reading that is no result: of a reference check, or of what a warm-up teaches."""
        self._heed()
        return self._rig.meter.read(ReadRequest(name, 0, integration_s), Deadline.after(READ_WITHIN_S))

    def _blank(self) -> None:
        """Leave the screen black; a screen that is gone is dark enough."""
        try:
            self._rig.screen.show(BLACK, Deadline.after(SHOW_WITHIN_S))
        except BenchdError:
            return

    def _sleep(self, seconds: float) -> None:
        self._rig.clock.sleep(seconds, self._stop)
        self._heed()

    def _heed(self) -> None:
        if self._stop.asked:
            raise _Asked(self._stop.reason or "a stop request")

    def _record(self, kind: str, step: str, attempt: int, body: Body) -> None:
        advance(self._state, self._journal.append(kind, step, attempt, body))
