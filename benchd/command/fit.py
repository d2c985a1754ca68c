"""Refuses a plan that does not fit the bench, before anything is opened."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from benchd.errors import InputError
from benchd.plan.fit import unfit

if TYPE_CHECKING:
    from benchd.plan.bench import Bench
    from benchd.plan.model import Plan


def refuse_unfit(plan: Plan, bench: Bench) -> None:
    """Raises `InputError` with every reason why the plan can't be run on this bench, as far as the files tell."""
    if faults := unfit(plan, bench):
        raise InputError("; ".join(faults))


def sets_by_hand(controls: Sequence[str]) -> str:
    """What a person must do during a run whose sweep has such controls, as a sentence without its full stop."""
    return f"a hand sets {', '.join(controls)} on the display whenever the sweep comes to a new value"
