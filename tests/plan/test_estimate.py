"""The estimate, against sums by hand."""

from __future__ import annotations

import pytest

from benchd.plan.estimate import estimate, step_seconds
from benchd.plan.run_order import before_each
from benchd.profile.bench import Timing
from tests.plan.helpers import HEAD, plan_of, steps_of

TIMING = Timing(reading_s=0.5, dark_reading_s=2.0, show_s=0.1, move_s=10.0)
TWO = "  - luminance: {}\n  - uniformity: {grid: 3x3, levels_percent: [100, 50]}"


def test_seconds_readings_and_moves_of_each_block() -> None:
    head = f"{HEAD}settle_s: 1\ndark_settle_s: 4\nreadings: 3\ndark_readings: 5\ndark_integration_s: auto\n"
    found = estimate(steps_of(TWO, head), TIMING, plan_of(TWO, head))
    luminance, uniformity = found.blocks
    # black: 0.1 + 4 + 5 x 2; white: 0.1 + 1 + 3 x 0.5; the operator begins with the meter at the centre.
    assert (luminance.steps, luminance.readings, luminance.moves) == (2, 8, 0)
    assert luminance.seconds == pytest.approx(14.1 + 2.6)
    # 9 places of two patches; the centre is measured first, where the meter stands already.
    assert (uniformity.steps, uniformity.readings, uniformity.moves) == (18, 54, 8)
    assert uniformity.seconds == pytest.approx(18 * 2.6 + 80)
    assert (found.steps, found.readings, found.moves) == (20, 62, 8)
    assert found.minimum_s == found.maximum_s == pytest.approx(luminance.seconds + uniformity.seconds)
    # A hand is needed from the first move away from the centre to the last: all places but the first and last.
    assert found.operator_s == pytest.approx(7 * 5.2 + 80)
    assert found.manual_blocks == ("uniformity",)


def test_a_mover_needs_no_hand() -> None:
    found = estimate(steps_of(TWO), TIMING, plan_of(TWO), manual_moves=False)
    # A mover is put to the centre first, since the plan leaves it later.
    assert (found.moves, found.operator_s, found.manual_blocks) == (9, 0.0, ())


def test_a_plan_that_stays_in_the_centre_needs_no_move() -> None:
    text = "  - luminance: {}\n  - grayscale: {steps: 5}"
    assert not any(one.moved for one in before_each(steps_of(text), manual_moves=False))
    assert estimate(steps_of(text), TIMING, plan_of(text)).operator_s == 0.0


def test_the_warm_up_has_a_least_and_a_most() -> None:
    for rule, minimum_s, maximum_s in (
        ("none", 0, 0),
        ("{minutes: 30}", 1800, 1800),
        ("{until: stable}", 1200, 3600),
        ("{until: stable, at_least_min: 5, at_most_min: 45}", 300, 2700),
    ):
        head = f"plan: p\nwarm_up: {rule}\n"
        found = estimate(steps_of("  - luminance: {}", head), TIMING, plan_of("  - luminance: {}", head))
        assert (found.warm_up_minimum_s, found.warm_up_maximum_s) == (minimum_s, maximum_s)
        working_s = sum(block.seconds for block in found.blocks)
        # Sixty consecutive readings like those of the first bright patch end a warm-up.
        white = next(step for step in steps_of("  - luminance: {}", head) if step.kind == "measure" and not step.dark)
        consecutive_s = TIMING.show_s + white.settle_s + 60 * TIMING.reading_s if rule != "none" else 0.0
        assert found.consecutive_s == pytest.approx(consecutive_s)
        assert found.minimum_s == pytest.approx(minimum_s + consecutive_s + working_s)
        assert found.maximum_s == pytest.approx(maximum_s + consecutive_s + working_s)


def test_a_reading_takes_at_least_its_integration_time() -> None:
    head = f"{HEAD}integration_s: 3\ndark_integration_s: 0.2\n"
    black, white = steps_of("  - luminance: {}", head)
    assert step_seconds(white, TIMING) == pytest.approx(0.1 + 0.6 + 3 * 3)
    assert step_seconds(black, TIMING) == pytest.approx(0.1 + 3 + 5 * 0.5)
