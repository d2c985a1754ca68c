"""How long a plan takes, and for how long the operator is needed, from the timing that a bench states. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from benchd.autocorrelation import FEWEST
from benchd.plan.offset_readings import AMBIENT, DARK_OFFSET
from benchd.plan.plan import Plan
from benchd.plan.run_order import Before, before_each, run_order, times_set
from benchd.plan.step import Step
from benchd.plan.steps import REFERENCE

if TYPE_CHECKING:
    from benchd.plan.plan import WarmUpLimits
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


def settling_s(before: Sequence[Before], plan: Plan) -> list[float]:
    """Seconds before each step in which the display settles after it was set."""
    settle_s = {swept.control: swept.settle_s for swept in plan.sweep}
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


TRUST_S = 60.0
"""How long the estimate weighs as much as what was seen: after this time both count the same."""


class TimeLeft:
    """Takes the end of each step and its time; ``done`` are the steps of earlier sessions.

    The warm-up has a minimum and a maximum, and so has the time that is left until it is over.
    """

    def __init__(
        self, steps: Sequence[Step], timing: Timing, warm_up: WarmUpLimits | None, done: Collection[str] = ()
    ) -> None:
        moves = zip(steps, (one.moved for one in before_each(steps, manual_moves=False)), strict=True)
        self._planned_s = {step.id: step_seconds(step, timing) + moved * timing.move_s for step, moved in moves}
        self._warm_up = next((step.id for step in steps if step.kind == "warm_up"), "")
        self._minimum_s = warm_up.at_least_min * 60.0 if warm_up and self._warm_up else 0.0
        self._maximum_s = warm_up.at_most_min * 60.0 if warm_up and self._warm_up else 0.0
        self._waiting = {name: seconds for name, seconds in self._planned_s.items() if name not in done}
        self._waiting_s = sum(self._waiting.values())
        self._over_s = sum(self._planned_s.values()) - self._waiting_s
        self._planned_here_s = self._took_here_s = self._warmed_s = 0.0
        self._share = 0.0
        self._is_warm = False
        if self._warm_up and self._warm_up not in self._waiting:
            self._warmed_up(self._minimum_s)

    def warming(self, took_s: float) -> None:
        """The warm-up has gone on for ``took_s`` since it began; not the readings at its end, which come later."""
        if self._is_warm:
            return
        more_s = took_s - self._warmed_s
        self._minimum_s, self._maximum_s = max(0.0, self._minimum_s - more_s), max(0.0, self._maximum_s - more_s)
        self._over_s += more_s
        self._warmed_s = took_s

    def finished(self, step: str, took_s: float) -> None:
        """A step is done; ``took_s`` with its move. Reported twice, it counts once."""
        planned_s = self._waiting.pop(step, None)
        if planned_s is None:
            return
        if step == self._warm_up:
            self._warmed_up(took_s)
            return
        self._waiting_s -= planned_s
        self._planned_here_s += planned_s
        self._took_here_s += took_s
        self._over_s += took_s

    def left_out(self, steps: Iterable[str]) -> None:
        """These steps will not be done."""
        self._waiting_s -= sum(self._waiting.pop(step, 0.0) for step in steps)

    def _warmed_up(self, took_s: float) -> None:
        self.warming(took_s)
        self._minimum_s = self._maximum_s = 0.0
        self._is_warm = True

    @property
    def minimum_s(self) -> float:
        """The minimum of what is left."""
        return self._minimum_s + self._steps_s

    @property
    def maximum_s(self) -> float:
        """What is left at the most: more than `minimum_s` only while the warm-up is not over."""
        return self._maximum_s + self._steps_s

    @property
    def share(self) -> float:
        """How much of the run's time is over, 0 to 1; it never falls, though what is left may grow."""
        left_s = (self.minimum_s + self.maximum_s) / 2
        now = 1.0 if not self._waiting else self._over_s / ((self._over_s + left_s) or 1.0)
        self._share = max(self._share, now)
        return self._share

    @property
    def _steps_s(self) -> float:
        pace = (self._took_here_s + TRUST_S) / (self._planned_here_s + TRUST_S)
        return max(0.0, self._waiting_s) * pace
