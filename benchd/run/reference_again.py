"""The reference patch at the begin of a new session: drift is known within one session only, so each begins with one.

Bench time starts anew with every session, and meanwhile the display may have cooled down or the meter been put back.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from benchd.plan.step import Step
from benchd.plan.steps import REFERENCE
from benchd.plan.sweep import Point
from benchd.run.log.records import RunState


class ReferenceAgain:
    """Which reference is to be read before the next step. ``wanted``: the plan compensates drift."""

    def __init__(self, steps: Sequence[Step], state: RunState, *, wanted: bool) -> None:
        self._steps = steps if wanted else ()
        self._state = state
        self._repeated: set[Point] = set()

    def before(self, step: Step) -> Iterable[Step]:
        """The reference of the step's point of a sweep, once a session, where an earlier session read it already."""
        if self._state.sessions < 2 or step.kind != "measure" or step.settings in self._repeated:
            return
        first = next((one for one in self._steps if one.base == REFERENCE and one.settings == step.settings), None)
        if first is None or first.at != step.at:
            return
        self._repeated.add(step.settings)
        if step.base == REFERENCE or first.id not in self._state.done:
            return
        anew = replace(first, id=f"{first.id.rpartition('/')[0]}/again-{self._state.sessions}")
        if anew.id not in self._state.done:
            yield anew
