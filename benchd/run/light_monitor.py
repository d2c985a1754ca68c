"""Detects a changed light during a run: two reference checks that are repeated, and what a failed one invalidates.

The rules are in `benchd/run/plausible.py`. All that must outlive a crash is in the log: a `done` that is an
reference says so, `checked` confirms what was done since the last check, `invalidated` takes it back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

from benchd.clock import Clock
from benchd.errors import LightChanged
from benchd.instruments.meter import Reading
from benchd.plan.step import Step
from benchd.plan.sweep import Point
from benchd.run.log.records import Body, RunState
from benchd.run.plausible import (
    CHECK_EVERY_S,
    Bounds,
    CheckName,
    Extremes,
    fault_in,
    has_jumped,
    luminance,
    reference_of,
    taken_in,
)

CHECK = "check"
"""Stands for a step in the records of a check."""

Why = Literal["next", "leaving", "closing"]
Write = Callable[[str, str, int, Body], None]
"""Puts a record into the log: kind, step, attempt, body."""


class ReferenceCheck(NamedTuple):
    """The readings of a reference check; what has not ``settled`` is compared with no later check."""

    readings: Sequence[Reading]
    settled: bool = True


class LightMonitor:
    """The memory of one session. ``bounds`` None: nothing is looked at, as in a replay."""

    def __init__(
        self, steps: Sequence[Step], state: RunState, bounds: Bounds | None, clock: Clock, write: Write
    ) -> None:
        self._steps, self._state, self._bounds = steps, state, bounds
        self._clock, self._write = clock, write
        self._seen: dict[Point, Extremes] = {}
        self._checked_s: float | None = None
        # Nothing counts before a reference check: of an earlier session, or after an implausible reading.
        self._unsure = bounds is not None and bool(state.reference_checks)
        self.doubts = 0  # how often the light was another one in this session

    def consider(self, step: Step, readings: Sequence[Reading], *, settled: bool = True) -> Body:
        """What `done` states besides the count of readings. Raises `Implausible` or `LightChanged`.

        Light that had not ``settled`` is no reference and is compared with none.
        """
        if self._bounds is None:
            return {}
        if (error := fault_in(step, readings, self._seen, self._bounds)) is not None:
            raise error
        if step.kind != "measure":
            return {}
        if settled:
            self._check_against_references(step, readings, self._bounds)
        self._seen[step.settings] = taken_in(step, readings, self._seen.get(step.settings, Extremes()), self._bounds)
        if self._checked_s is None:
            self._checked_s = self._clock.now_s()
        name, found = reference_of(step), luminance(readings, self._bounds)
        known = self._state.reference_checks.get(name) if name else None
        if name is None or found is None or not settled or (known is not None and known.step != step.id):
            return {}
        return {"reference_check": name, "luminance_cd_m2": found}

    def _check_against_references(self, step: Step, readings: Sequence[Reading], bounds: Bounds) -> None:
        """The same patch at the same place and settings as a reference is a check that costs nothing."""
        name = reference_of(step)
        before = self._state.reference_checks.get(name) if name else None
        if name is None or before is None:
            return
        first = self._step(before.step)
        if first is None or (first.patch, first.at, first.settings) != (step.patch, step.at, step.settings):
            return
        now = luminance(readings, bounds)
        if now is not None and has_jumped(name, before.luminance_cd_m2, now, bounds):
            raise self._jump(name, step.id, now)

    def _step(self, step_id: str) -> Step | None:
        return next((step for step in self._steps if step.id == step_id), None)

    def _jump(self, name: str, step: str, now_cd_m2: float | None) -> LightChanged:
        before = self._state.reference_checks[name]
        count = len(self._state.unchecked)
        reads = "over range" if now_cd_m2 is None else f"{now_cd_m2:.4g} cd/m2"
        whose = step if step != CHECK else before.step
        again = f"{count} step{'s' if count > 1 else ''} done since then will be measured again" if count else ""
        return LightChanged(
            f"the {name} patch of {whose} reads {reads} where it read {before.luminance_cd_m2:.4g} cd/m2: the meter "
            "was moved, a light was switched on, or the display has changed since the last check. Put it back as it "
            f"was and resume, or start a new run{'; ' * bool(again)}{again}"
        )

    def due(self, why: Why) -> bool:
        """True when a reference check is due, if it is possible: see `within_reach`."""
        state = self._state
        if self._bounds is None or not self._bounds.look_again or not state.reference_checks:
            return False
        if self._unsure:
            return True
        if why == "next" and (self._checked_s is None or self._clock.now_s() - self._checked_s < CHECK_EVERY_S):
            return False
        # The references themselves need no check: without other steps nothing depends on it.
        references = {checked.step for checked in state.reference_checks.values()}
        return len(state.unchecked) > len(references) or not set(state.unchecked) <= references

    def within_reach(self, possible: Callable[[Step], bool]) -> dict[str, Step]:
        """The references that need no operator, as steps of their own."""
        steps = {name: self._step(checked.step) for name, checked in self._state.reference_checks.items()}
        return {name: replace(step, id=CHECK) for name, step in steps.items() if step is not None and possible(step)}

    def disagrees(self, name: str, readings: Sequence[Reading]) -> bool:
        """True when the readings of that reference are not the light that it was."""
        assert self._bounds is not None  # nothing is due without them
        now, before = luminance(readings, self._bounds), self._state.reference_checks[name].luminance_cd_m2
        check: CheckName = "bright" if name == "bright" else "dark"
        return now is None or has_jumped(check, before, now, self._bounds)

    def compare(self, found: Mapping[str, ReferenceCheck], attempt: int) -> None:
        """Compare the references' new readings with the old. Raises `LightChanged`; else the log has `checked`."""
        assert self._bounds is not None  # nothing is due without them
        agreed: dict[str, Body] = {}
        for name, (readings, settled) in found.items():
            before = self._state.reference_checks[name]
            now = luminance(readings, self._bounds)
            if self.disagrees(name, readings):
                raise self._jump(name, CHECK, now)
            agreed[name] = {
                "step": before.step,
                "before_cd_m2": before.luminance_cd_m2,
                "luminance_cd_m2": now if settled else before.luminance_cd_m2,
                "raw": [reading.raw for reading in readings],
            }
        self._write("checked", CHECK, attempt, {"reference_checks": agreed, "steps": len(self._state.unchecked)})
        self._unsure = False
        self._checked_s = self._clock.now_s()

    def doubt(self, step: str, attempt: int, *, giving_up: bool) -> None:
        """Take back what was done since the last check; the references too when the run pauses over it.

        Until then they stay, so that a light that went off again is known by them.
        """
        steps = list(self._state.unchecked)
        dropped = [
            name
            for name, checked in self._state.reference_checks.items()
            if giving_up and (checked.step in steps or checked.step not in self._state.done)
        ]
        self._seen.clear()
        self._unsure = True
        self.doubts += 1
        if steps or dropped:
            self._write("invalidated", step, attempt, {"steps": steps, "reference_checks_dropped": dropped})
