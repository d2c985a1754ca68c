"""How long a plan takes, and for how long the operator is needed, from the timing that a bench states. Pure."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from benchd.autocorrelation import FEWEST
from benchd.plan.offset_readings import AMBIENT, DARK_OFFSET
from benchd.plan.plan import Plan
from benchd.plan.run_order import Before, before_each, run_order, times_set
from benchd.plan.step import Step
from benchd.plan.steps import REFERENCE
from benchd.plan.sweep import settle_after

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
    operator_s: float  # from the first manual move or setting to the last, 0 where the bench does all by itself
    manual_blocks: tuple[str, ...]  # blocks in which the operator moves the meter
    consecutive_s: float = 0.0  # the readings at the end of the warm-up, in the sums of seconds; more where noise lasts
    manual_settings: int = 0  # how often the operator sets a control of the display


def estimate(
    steps: Sequence[Step],
    timing: Timing,
    plan: Plan,
    *,
    manual_moves: bool = True,
    set_manually: Collection[str] = (),
    precise_s: Mapping[str, float] | None = None,
) -> Estimate:
    """The estimate for ``steps`` of ``plan``, in seconds of bench time and in the order of the run.

    ``set_manually``: the controls that only the operator can set.
    ``precise_s``: what the steps that are read to a precision will take, by id, where known.
    """
    limits = plan.warm_up.limits
    minimum_s, maximum_s = (limits.at_least_min * 60.0, limits.at_most_min * 60.0) if limits else (0.0, 0.0)
    steps = run_order(steps, manual_moves=manual_moves)
    before = before_each(steps, manual_moves=manual_moves)
    moving = [one.moved for one in before]
    more = {REFERENCE: plan.reference, DARK_OFFSET: plan.dark_offset, AMBIENT: plan.ambient}
    names = [(block.name, block.kind) for block in plan.blocks]
    names += [(name, name) for name, part in more.items() if part is not None]
    blocks = tuple(_block(name, kind, steps, moving, timing, precise_s or {}) for name, kind in names)
    consecutive_s = _consecutive_s(steps, timing) if limits else 0.0
    working_s = sum(block.seconds for block in blocks) + sum(settling_s(before, plan))
    return Estimate(
        blocks=blocks,
        steps=len(steps),
        readings=sum(block.readings for block in blocks),
        moves=sum(moving),
        warm_up_minimum_s=minimum_s,
        warm_up_maximum_s=maximum_s,
        minimum_s=minimum_s + consecutive_s + working_s,
        maximum_s=maximum_s + consecutive_s + working_s,
        operator_s=_attended_s(steps, before, plan, timing, manual_moves, set_manually),
        manual_blocks=tuple(block.name for block in blocks if block.moves) if manual_moves else (),
        consecutive_s=consecutive_s,
        manual_settings=times_set(before, set_manually),
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
    moving = [one.moved for one in before_each(steps, manual_moves=False)]
    return sum(step_seconds(step, timing) + moved * timing.move_s for step, moved in zip(steps, moving, strict=True))


def planned_seconds(
    steps: Sequence[Step],
    timing: Timing,
    plan: Plan,
    *,
    manual_moves: bool,
    precise_s: Mapping[str, float],
) -> list[float]:
    """Seconds of each of ``steps``, which are in the order of the run, with the move and the settings before it.

    Of a warm-up it is the readings at its end: how long it takes otherwise, the plan limits itself. Arguments as of
    `estimate`.
    """
    before = before_each(steps, manual_moves=manual_moves)
    return [
        _consecutive_s(steps, timing)
        if step.kind == "warm_up"
        else precise_s.get(step.id, step_seconds(step, timing)) + one.moved * timing.move_s + settle_s
        for step, one, settle_s in zip(steps, before, settling_s(before, plan), strict=True)
    ]


def settling_s(before: Sequence[Before], plan: Plan) -> list[float]:
    """Seconds before each step in which the display settles after it was set."""
    settle_s = settle_after(plan.sweep)
    return [sum(settle_s[name] for name, _ in one.settings) for one in before]


def _attended_s(
    steps: Sequence[Step],
    before: Sequence[Before],
    plan: Plan,
    timing: Timing,
    manual_moves: bool,
    set_manually: Collection[str],
) -> float:
    """Seconds from the beginning of what the operator does first after the first step to the end of the last of it."""

    def attended(one: Before) -> bool:
        return (manual_moves and one.moved) or any(name in set_manually for name, _ in one.settings)

    numbers = [index for index, one in enumerate(before) if attended(one) and index > 0]
    if not numbers:
        return 0.0
    first, last = numbers[0], numbers[-1]
    changing_s = [
        one.moved * timing.move_s + settle_s for one, settle_s in zip(before, settling_s(before, plan), strict=True)
    ]
    return sum(step_seconds(step, timing) for step in steps[first:last]) + sum(changing_s[first : last + 1])
