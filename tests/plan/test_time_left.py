"""How far a run is and what is left, against sums by hand."""

from __future__ import annotations

import pytest

from benchd.plan.estimate import estimate, planned_seconds
from benchd.plan.plan import WarmUpLimits
from benchd.plan.run_order import run_order
from benchd.plan.step import Step
from benchd.plan.time_left import TRUST_S, TimeLeft
from benchd.profile.bench import Timing
from tests.plan.helpers import plan_of, steps_of

TIMING = Timing(reading_s=0.5, dark_reading_s=2.0, show_s=0.1, move_s=10.0)
GREYS = "  - grayscale: {steps: 21}"
HEAD = (
    "plan: p\nwarm_up: {until: stable}\nsettle_s: 4.4\ndark_settle_s: 4.4\ndark_readings: 3\ndark_integration_s: 0.5\n"
)
EACH_S = 6.0  # shown 0.1, settled 4.4, three readings of 0.5


def warm_run(done: frozenset[str] = frozenset()) -> tuple[TimeLeft, list[Step]]:
    steps = list(steps_of(GREYS, HEAD))
    return TimeLeft(steps, [0.0] + [EACH_S] * 21, plan_of(GREYS, HEAD).warm_up.limits, done), steps


def test_the_warm_up_leaves_the_time_open_and_counts_down() -> None:
    left, steps = warm_run()
    work_s = 21 * EACH_S
    assert [left.minimum_s, left.maximum_s, left.share] == pytest.approx([1200 + work_s, 3600 + work_s, 0])
    left.warming(600.0)
    assert [left.minimum_s, left.maximum_s] == pytest.approx([600 + work_s, 3000 + work_s])
    left.warming(1500.0)
    assert [left.minimum_s, left.maximum_s] == pytest.approx([work_s, 2100 + work_s])
    left.finished(steps[0].id, 1560.0)
    assert left.minimum_s == left.maximum_s == pytest.approx(work_s)
    assert left.share == pytest.approx(1560 / (1560 + work_s)), "a warm-up that ended early is no loss of time"


def test_the_readings_at_the_end_of_a_warm_up_do_not_begin_it_again() -> None:
    left, _ = warm_run()
    left.warming(1500.0)
    left.finished("warm-up", 1500.0)
    before = left.minimum_s, left.maximum_s
    left.warming(3.0)
    assert (left.minimum_s, left.maximum_s) == before


def test_a_bench_that_is_slower_than_its_profile_says_corrects_the_time_left() -> None:
    left, steps = warm_run()
    left.finished(steps[0].id, 1200.0)
    for step in steps[1:11]:
        left.finished(step.id, 3 * EACH_S)
    assert left.minimum_s == pytest.approx(11 * EACH_S * (180 + TRUST_S) / (60 + TRUST_S))
    for step in steps[11:]:
        left.finished(step.id, 3 * EACH_S)
    assert (left.minimum_s, left.share) == (0.0, 1.0)


def test_a_resume_begins_where_the_log_is() -> None:
    steps = steps_of(GREYS, HEAD)
    left, _ = warm_run(frozenset(step.id for step in steps[:11]))
    assert left.minimum_s == left.maximum_s == pytest.approx(11 * EACH_S)
    assert left.share == pytest.approx((1200 + 60) / (1200 + 21 * EACH_S))
    left.finished(steps[11].id, EACH_S)
    left.finished(steps[11].id, EACH_S)
    assert left.minimum_s == pytest.approx(10 * EACH_S), "told twice, counted once"


def test_the_share_only_grows() -> None:
    left, steps = warm_run()
    shares = [left.share]
    for minute in range(1, 21):
        left.warming(60.0 * minute)
        shares.append(left.share)
    for number, step in enumerate(steps):
        left.finished(step.id, 1200.0 if number == 0 else EACH_S)
        shares.append(left.share)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_a_plan_without_warm_up() -> None:
    head = HEAD.replace("{until: stable}", "none")
    steps = steps_of(GREYS, head)
    left = TimeLeft(steps, [EACH_S] * 21, None)
    assert left.minimum_s == left.maximum_s == pytest.approx(21 * EACH_S)
    assert TimeLeft(steps, [EACH_S] * 21, WarmUpLimits(20, 60, True)).minimum_s == left.minimum_s, "no step, no warm-up"


SWEPT = "  - luminance: {}\n  - grayscale: {steps: 21}\n  - uniformity: {grid: 3x3}"
SWEPT_HEAD = HEAD + "sweep: [{control: brightness, values: [20, 50], settle_s: 5}]\n"


@pytest.mark.parametrize("manual", [True, False])
def test_before_a_run_what_is_left_is_what_the_plan_says(manual: bool) -> None:
    plan, steps = plan_of(SWEPT, SWEPT_HEAD), run_order(steps_of(SWEPT, SWEPT_HEAD), manual_moves=manual)
    planned_s = planned_seconds(steps, TIMING, plan, manual_moves=manual, precise_s={})
    left = TimeLeft(steps, planned_s, plan.warm_up.limits)
    found = estimate(steps, TIMING, plan, manual_moves=manual)
    assert (left.minimum_s, left.maximum_s) == pytest.approx((found.minimum_s, found.maximum_s))


def test_what_is_left_does_not_rise_for_blocks_that_are_as_planned() -> None:
    """Greys take twice as planned, the rest as planned: only the greys that are still to come are corrected."""
    plan, steps = plan_of(SWEPT, SWEPT_HEAD), steps_of(SWEPT, SWEPT_HEAD)
    planned_s = planned_seconds(steps, TIMING, plan, manual_moves=False, precise_s={})
    took_s = [seconds * (2 if step.base == "grayscale" else 1) for step, seconds in zip(steps, planned_s, strict=True)]
    left = TimeLeft(steps, planned_s, plan.warm_up.limits)
    left.finished(steps[0].id, 1200.0)
    before_s = left.minimum_s
    others_s = sum(s for step, s in zip(steps, planned_s, strict=True) if step.base != "grayscale")
    for index, step in enumerate(steps[1:], start=1):
        left.finished(step.id, took_s[index])
        truth_s = sum(took_s[index + 1 :])
        assert left.minimum_s <= truth_s + 1e-6
        assert left.minimum_s >= min(before_s - others_s, truth_s / 2) - 1e-6
        if step.base != "grayscale":
            assert left.minimum_s <= before_s + 1e-6, step.id
        before_s = left.minimum_s
    assert left.minimum_s == 0.0


def test_a_meter_that_is_slower_in_all_blocks_corrects_those_to_come_too() -> None:
    plan, steps = plan_of(SWEPT, SWEPT_HEAD), steps_of(SWEPT, SWEPT_HEAD)
    planned_s = planned_seconds(steps, TIMING, plan, manual_moves=False, precise_s={})
    left = TimeLeft(steps, planned_s, plan.warm_up.limits)
    left.finished(steps[0].id, 1200.0)
    for step, seconds in zip(steps[1:24], planned_s[1:24], strict=True):
        left.finished(step.id, 3 * seconds)
    assert left.minimum_s > 1.2 * sum(planned_s[24:])
