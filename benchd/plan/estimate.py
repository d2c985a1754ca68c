"""How long a plan takes, and for how long the operator is needed, from the timing that a bench states. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from benchd.autocorrelation import FEWEST
from benchd.plan.offset_readings import AMBIENT, DARK_OFFSET
from benchd.plan.plan import Plan
from benchd.plan.step import CENTRE, Step
from benchd.plan.steps import REFERENCE, sweep_points
from benchd.plan.sweep import changes

if TYPE_CHECKING:
    from benchd.profile.timing import Timing


PRECISE_S, PRECISE_DARK_S = 0.5, 6.0
"""Assumed for a patch that is read to a precision, where the bench states no expected display."""


class BlockEstimate(NamedTuple):
    """One block."""

    name: str
    kind: str
    steps: int
    readings: int
    moves: int
    seconds: float


class Estimate(NamedTuple):
    """The whole plan. Readings and steps of the warm-up are not in the sums of readings; its step is."""

    blocks: tuple[BlockEstimate, ...]
    steps: int
    readings: int
    moves: int
    warm_up_minimum_s: float
    warm_up_maximum_s: float
    minimum_s: float
    maximum_s: float
    operator_s: float  # from the first manual move to the last, 0 where a mover does it
    manual_blocks: tuple[str, ...]  # blocks in which the operator moves the meter
    consecutive_s: float = 0.0  # the readings at the end of the warm-up, in the sums of seconds; more where noise lasts


def estimate(
    steps: Sequence[Step],
    timing: Timing,
    plan: Plan,
    *,
    manual_moves: bool = True,
    precise_s: Mapping[str, float] | None = None,
) -> Estimate:
    """The estimate for ``steps`` of ``plan``, in seconds of bench time.

    ``precise_s``: what the steps that are read to a precision will take, by id, where known.
    """
    limits = plan.warm_up.limits
    minimum_s, maximum_s = (limits.at_least_min * 60.0, limits.at_most_min * 60.0) if limits else (0.0, 0.0)
    moving = moves_before(steps)
    blocks: list[BlockEstimate] = []
    for block in plan.blocks:
        blocks.append(_block(block.name, block.kind, steps, moving, timing, precise_s or {}))
    if plan.reference is not None:
        blocks.append(_block(REFERENCE, REFERENCE, steps, moving, timing, precise_s or {}))
    for name, beside in ((DARK_OFFSET, plan.dark_offset), (AMBIENT, plan.ambient)):
        if beside is not None:
            blocks.append(_block(name, name, steps, moving, timing, precise_s or {}))
    consecutive_s = _consecutive_s(steps, timing) if limits else 0.0
    working_s = sum(block.seconds for block in blocks) + changes(sweep_points(plan), plan.sweep)
    return Estimate(
        blocks=tuple(blocks),
        steps=len(steps),
        readings=sum(block.readings for block in blocks),
        moves=sum(moving),
        warm_up_minimum_s=minimum_s,
        warm_up_maximum_s=maximum_s,
        minimum_s=minimum_s + consecutive_s + working_s,
        maximum_s=maximum_s + consecutive_s + working_s,
        operator_s=_span_of_moves_s(steps, moving, timing) if manual_moves else 0.0,
        manual_blocks=tuple(block.name for block in blocks if block.moves) if manual_moves else (),
        consecutive_s=consecutive_s,
    )


def _consecutive_s(steps: Sequence[Step], timing: Timing) -> float:
    """The shortest time of the readings at the end of a warm-up."""
    like = next((step for step in steps if step.kind == "measure" and not step.dark and step.series is None), None)
    if like is None:
        return FEWEST * timing.reading_s
    return timing.show_s + like.settle_s + FEWEST * max(like.integration_s or 0.0, timing.reading_s)


def _block(
    name: str,
    kind: str,
    steps: Sequence[Step],
    moving: Sequence[bool],
    timing: Timing,
    precise_s: Mapping[str, float],
) -> BlockEstimate:
    own = [(step, moved) for step, moved in zip(steps, moving, strict=True) if step.base == name and step.block]
    seconds = sum(precise_s.get(step.id, step_seconds(step, timing)) + moved * timing.move_s for step, moved in own)
    readings, moves = sum(step.readings for step, _ in own), sum(moved for _, moved in own)
    return BlockEstimate(name, kind, len(own), readings, moves, seconds)


def step_seconds(step: Step, timing: Timing) -> float:
    """What one measuring step takes, without its move; 0 for the warm-up, which the plan limits itself."""
    if step.kind == "warm_up":
        return 0.0
    if step.series is not None:
        return timing.show_s + step.series.black_s + step.series.for_s
    if step.precision is not None:
        return timing.show_s + (PRECISE_DARK_S if step.dark else PRECISE_S)
    if step.integration_s is not None:
        reading_s = max(step.integration_s, timing.reading_s)
    else:
        reading_s = timing.dark_reading_s if step.dark else timing.reading_s
    return timing.show_s + step.settle_s + step.readings * reading_s


def working_s(steps: Sequence[Step], timing: Timing) -> float:
    """Seconds of bench time of all steps with their moves, without the warm-up and what settings take."""
    moving = moves_before(steps)
    return sum(step_seconds(step, timing) + moved * timing.move_s for step, moved in zip(steps, moving, strict=True))


def moves_before(steps: Sequence[Step]) -> list[bool]:
    """For each step, whether the meter is moved before it.

    Where a plan leaves the centre, the first step is a move too: the meter is put where it begins.
    """
    roams = any(step.at != CENTRE for step in steps)
    places = [None if roams else CENTRE, *(step.at for step in steps)]
    return [before != after for before, after in pairwise(places)]


def _span_of_moves_s(steps: Sequence[Step], moving: Sequence[bool], timing: Timing) -> float:
    """Seconds from the beginning of the first move after the first step to the end of the last move."""
    numbers = [index for index, moved in enumerate(moving) if moved and index > 0]
    if not numbers:
        return 0.0
    first, last = numbers[0], numbers[-1]
    between = sum(step_seconds(step, timing) for step in steps[first:last])
    return between + sum(moving[first : last + 1]) * timing.move_s
