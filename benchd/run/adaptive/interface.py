"""Reading to a precision: the one module of this room that others import. What it needs is loaded when it is called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from benchd.plan.step import Step
from benchd.run.adaptive.protocol import AdaptiveReading as AdaptiveReading
from benchd.run.adaptive.protocol import Read as Read

if TYPE_CHECKING:
    from benchd.instruments.meter import MeterIdentity
    from benchd.profile.bench import Bench
    from benchd.profile.dialect import Dialect
    from benchd.profile.display import Expected
    from benchd.profile.timing import Timing
    from benchd.run.log.records import RunState


def adaptive_reading(
    steps: Sequence[Step],
    state: RunState,
    bench: Bench | None = None,
    dialect: Dialect | None = None,
    meter: MeterIdentity | None = None,
) -> AdaptiveReading:
    """The adaptive reading of a session; of ``bench`` it uses the meter's limits and the stated noise."""
    from benchd.run.adaptive.learned import Learned
    from benchd.run.adaptive.precise_step import Precise, learned_on

    return Precise(steps, state, Learned() if bench is None or meter is None else learned_on(bench, dialect, meter))


def expected_seconds(steps: Sequence[Step], expected: Expected | None, timing: Timing) -> Mapping[str, float]:
    """How long the steps that are read to a precision take on a display as ``expected``, by their names.

    None: nothing is known of the display. Nothing is loaded where a plan has no such steps.
    """
    if all(step.precision is None for step in steps):
        return {}
    from benchd.profile.display import Expected
    from benchd.run.adaptive import expected_time

    return expected_time.expected_seconds(steps, expected or Expected(), timing)
