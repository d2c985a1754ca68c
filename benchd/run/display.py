"""The display's settings during a run: set for a step, checked after it, put back at the end and after a crash."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from benchd.clock import Clock, Deadline
from benchd.errors import BenchdError, ControlAbsent, ControlMismatch, OperatorNeeded
from benchd.instruments.control import Control, PointSkipped, SetOutcome
from benchd.plan.step import Step
from benchd.profile.reading.values import Setting
from benchd.run.log.records import Body, RunState

CONTROL_WITHIN_S = 60.0

Write = Callable[[str, str, int, Body], None]
"""Puts a record into the log: kind, step, attempt, body."""


class DisplaySettings:
    """What the plan's sweep has set in this session, over the controls of the bench.

    What a control was before the run is in the log from the moment it is first touched, so that it can be put
    back whatever happens; a control that only the operator can set is left as it is. ``planned_s``: how long the plan
    has a control wait after it was changed; the bench's own time holds where it is longer.
    """

    def __init__(
        self,
        controls: Mapping[str, Control],
        state: RunState,
        clock: Clock,
        write: Write,
        planned_s: Mapping[str, float] = MappingProxyType({}),
    ) -> None:
        self._controls, self._state, self._clock, self._write = controls, state, clock, write
        self._planned_s = planned_s
        self._now: dict[str, Setting] = {}
        self._confirmed = state.set_to  # "control=value": requested before this session, and done

    def reach(self, step: Step, attempt: int) -> float:
        """Set what ``step`` needs and is not so already; the seconds that the display needs to settle.

        Raises a `ControlError`, or `OperatorNeeded`.
        """
        settle_s = 0.0
        for name, value in step.settings:
            if self._now.get(name) == value:
                continue
            control = self._control(name)
            if (original := self._state.originals.get(name)) is None:
                original = control.read(Deadline.after(CONTROL_WITHIN_S))
            outcome = self._set(control, name, value)
            self._now[name], self._confirmed = value, ""
            self._write("set", step.id, attempt, _body(name, outcome, original, restoring=False))
            settle_s = max(settle_s, control.settle_s, self._planned_s.get(name, 0.0))
        return settle_s

    def verify(self, step: Step) -> None:
        """Raises `ControlMismatch` when the display has changed by itself what was set for ``step``."""
        for name, value in step.settings:
            found = self._control(name).read(Deadline.after(CONTROL_WITHIN_S))
            if found is not None and found != value:
                self._now.pop(name, None)
                raise ControlMismatch(
                    f"control {name} was set to {value} and is {found} after the readings: the display changed it by "
                    "itself (automatic brightness, power saving); turn that off"
                )

    def needs_no_operator(self, step: Step) -> bool:
        """True when the operator need not set what ``step`` needs, as far as the log shows.

        What is set manually must be set back manually: a run that requests that at every resume never gets on.
        """
        return all(
            name not in self._state.set_manually or self._now.get(name) == value or self._confirmed == f"{name}={value}"
            for name, value in step.settings
        )

    def confirm(self, control: str, value: Setting) -> None:
        """The operator says that it is set so: in a session that has not set it, this needs no prompt more."""
        if self._now.get(control) != value:
            self._confirmed = f"{control}={value}"

    def forget(self, *controls: str) -> None:
        """Nothing is taken for granted, or not these controls: the next attempt sets them anew."""
        for name in controls or tuple(self._now):
            self._now.pop(name, None)

    def restore(self) -> Sequence[str]:
        """Put back what the run found; what could not be put back, a sentence each."""
        failed: list[str] = []
        for name, original in list(self._state.originals.items()):
            try:
                outcome = self._control(name).set(original, Deadline.after(CONTROL_WITHIN_S), restoring=True)
            except (BenchdError, PointSkipped) as error:
                failed.append(f"control {name} could not be put back to {original}: {error}")
                continue
            self._write("set", "", 0, _body(name, outcome, original, restoring=True))
        self._now.clear()
        return failed

    def _control(self, name: str) -> Control:
        if name not in self._controls:
            known = ", ".join(self._controls) or "none"
            raise ControlAbsent(f"the bench has no control {name!r}; it has: {known}. Add it to the bench's controls")
        return self._controls[name]

    def _set(self, control: Control, name: str, value: Setting) -> SetOutcome:
        if self._confirmed == f"{name}={value}":
            # The pause before this session requested it, and the resume takes it as done; or the operator did.
            return SetOutcome(value, None, 0.0, "operator")
        try:
            return control.set(value, Deadline.after(CONTROL_WITHIN_S))
        except OperatorNeeded as needed:
            needed.setting = f"{name}={value}"
            raise


def _body(name: str, outcome: SetOutcome, original: Setting | None, *, restoring: bool) -> Body:
    return {
        "control": name,
        "asked": outcome.asked,
        "read_back": outcome.read_back,
        "original": original,
        "by": outcome.by,
        "why": outcome.why,
        "elapsed_s": round(outcome.elapsed_s, 3),
        "restoring": restoring,
    }
