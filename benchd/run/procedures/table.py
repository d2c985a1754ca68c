"""The table of procedures: a step names its own (`Step.procedure`), and the sequencer has no other list of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from benchd.errors import PlanUnfit
from benchd.plan.step import Step
from benchd.run.log.records import RunState
from benchd.run.procedures import consecutive, precision, readings, series, warm_up
from benchd.run.rig import Performed, StepRig


def not_done(step: Step, steps: Sequence[Step], state: RunState, *, again: bool) -> Iterator[Step]:
    """The step itself until it is done, or left out by the operator."""
    if step.id not in state.done and step.id not in state.skipped:
        yield step


class Procedure(NamedTuple):
    """One way to read a step."""

    perform: Callable[[Step, StepRig], Performed]
    is_result: bool = True  # its patch is verified after it; reference checks may come before it
    due: Callable[..., Iterator[Step]] = not_done
    """What is due of a step in a session: ``(step, steps, state, again=the run stood still too long)``."""


PROCEDURES: Mapping[str, Procedure] = {
    "readings": Procedure(readings.perform),
    "precision": Procedure(precision.perform),
    "series": Procedure(series.perform),
    "warm_up": Procedure(warm_up.perform, is_result=False, due=consecutive.warm_ups),
    "consecutive": Procedure(consecutive.perform, is_result=False),
}


def refuse_unknown(steps: Sequence[Step]) -> None:
    """Raises `PlanUnfit` for a step whose procedure is not in the table, before anything is opened."""
    for step in steps:
        if step.procedure not in PROCEDURES:
            raise PlanUnfit(
                f"step {step.id} is read by the procedure {step.procedure!r}, which this benchd does not have; it has: "
                f"{', '.join(PROCEDURES)}"
            )
