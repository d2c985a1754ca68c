"""The order in which a bench does the steps of a plan, and what is moved and set before each. Pure.

One function for what is listed beforehand and what is run, so that the counts and the order of both agree.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from benchd.plan.step import ATTENDED, CENTRE, Step
from benchd.plan.sweep import Point


class Before(NamedTuple):
    """What changes before a step, since the one before it."""

    moved: bool  # the meter
    settings: Point  # the controls of the display that get another value


def run_order(steps: Sequence[Step], *, manual_moves: bool) -> tuple[Step, ...]:
    """The same steps; where the operator moves the meter, those away from the centre after all others: everything that
    needs no move is done before anybody must be there."""
    if not manual_moves:
        return tuple(steps)
    stays = [step for step in steps if step.at == CENTRE or step.place in ATTENDED]
    goes = [step for step in steps if step.at != CENTRE and step.place not in ATTENDED]
    closing = [stays.pop()] if stays and stays[-1].place in ATTENDED else []
    return (*stays, *goes, *closing)


def before_each(steps: Sequence[Step], *, manual_moves: bool) -> list[Before]:
    """For each step, in the order of `run_order`, what is moved and set before it.

    The operator begins with the meter at the centre. Where a mover's plan leaves the centre, the first step is a move
    too: the meter is put where it begins.
    """
    place = CENTRE if manual_moves or all(step.at == CENTRE for step in steps) else None
    now: dict[str, object] = {}
    found: list[Before] = []
    for step in steps:
        settings = tuple((name, value) for name, value in step.settings if now.get(name) != value)
        found.append(Before(step.at != place, settings))
        place = step.at
        now.update(settings)
    return found


def times_set(before: Sequence[Before], controls: Collection[str]) -> int:
    """How often one of ``controls`` is set."""
    return sum(name in controls for one in before for name, _ in one.settings)
