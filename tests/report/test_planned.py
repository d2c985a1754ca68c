"""The plan as text. Plans, benches and timings are invented; the shapes are those that `benchd.plan` makes."""

import re

import pytest

from benchd.patch.model import Patch, field, grey
from benchd.plan.estimate import BlockEstimate, Estimate, estimate
from benchd.plan.run_order import Before, before_each
from benchd.plan.step import Step
from benchd.plan.steps import expand
from benchd.profile.timing import AnyBench
from benchd.report.terminal.planned import patch_words, render_plan
from tests.plan.helpers import plan_of

NIGHT = Estimate(
    blocks=(
        BlockEstimate("luminance", "luminance", 2, 8, 0, 12.0),
        BlockEstimate("uniformity", "uniformity", 50, 150, 25, 1560.0),
    ),
    steps=53,
    readings=158,
    moves=25,
    warm_up_minimum_s=1200.0,
    warm_up_maximum_s=3600.0,
    minimum_s=2772.0,
    maximum_s=5172.0,
    operator_s=1545.0,
    manual_blocks=("uniformity",),
)
STEPS = (
    Step("warm-up", "", "warm_up", field(grey(128)), {}, readings=1, settle_s=0.0),
    Step("luminance/black", "luminance", "readings", field(grey(0)), {}, readings=5, settle_s=2.0, dark=True),
    Step("uniformity/r1c2/white", "uniformity", "readings", field(grey(255)), {}, "r1c2", (0.3, 0.1)),
    Step("uniformity/r1c2/grey50", "uniformity", "readings", field(grey(128)), {}, "r1c2", (0.3, 0.1)),
)


def test_golden_summary() -> None:
    assert render_plan(NIGHT, plan="night", bench="lab-2", cautions=("do not watch the screen",)) == (
        "Plan night on bench lab-2: 53 steps, 158 readings, 25 moves of the meter by the operator\n"
        "  warm-up                                       until stable, 20 to 60 min; readings not counted\n"
        "  luminance    2 steps    8 readings            12 s\n"
        "  uniformity  50 steps  150 readings  25 moves  26 min\n"
        "  total                                         46 to 86 min\n"
        "  the operator is needed for about 26 min of it (uniformity)\n"
        "Caution: do not watch the screen.\n"
    )


def test_every_step_and_every_move_in_order() -> None:
    text = render_plan(NIGHT, plan="night", bench="lab-2", steps=STEPS, before=before_each(STEPS, manual_moves=True))
    listed = text.split("\n\n")[1].splitlines()
    assert re.split(r"  +", listed[0].strip()) == ["step", "patch", "place", "readings", "settle"]
    rest = [re.split(r"  +", line.strip()) for line in listed[1:]]
    assert rest == [
        ["-- the meter stands at the centre of the screen when the run begins"],
        ["1", "warm-up", "field 128", "centre", "until stable"],
        ["2", "luminance/black", "field 0", "centre", "5", "2 s", "dark"],
        ["-- the operator moves the meter to r1c2 (30 % of the width, 10 % of the height)"],
        ["3", "uniformity/r1c2/white", "field 255", "r1c2", "3", "0.6 s"],
        ["4", "uniformity/r1c2/grey50", "field 128", "r1c2", "3", "0.6 s"],
    ]


def test_a_mover_needs_no_hand_and_a_simulated_bench_says_so() -> None:
    still = Estimate(NIGHT.blocks, 53, 158, 25, 0.0, 0.0, 1572.0, 1572.0, 0.0, ())
    moved = [Before(True, ())] * 4
    text = render_plan(still, plan="night", bench="sim-office", simulated=True, steps=STEPS, before=moved)
    assert text.startswith("Plan night on bench sim-office (SIMULATED): ")
    assert "25 moves of the meter by the mover" in " ".join(text.split())
    assert "hand" not in text
    assert re.search(r"warm-up +none\n", text)
    assert re.search(r"total +26 min\n", text)
    fixed = Estimate(NIGHT.blocks, 53, 158, 0, 1800.0, 1800.0, 3372.0, 3372.0, 0.0, ())
    assert re.search(r"warm-up +30 min;", render_plan(fixed, plan="night", bench="lab-2"))


@pytest.mark.parametrize(
    ("patch", "text"),
    [
        (field(grey(128)), "field 128"),
        (field((255, 0, 0)), "field 255 0 0"),
        (field(grey(512), 10), "field 512, 10 bits"),
        (Patch("window", grey(255), 8, grey(51), 10.0), "window 10 %, 255 on 51"),
        (Patch("checkerboard", grey(255), columns=4, rows=4), "checkerboard 4 x 4, 255 and 0"),
        (
            Patch("checkerboard", grey(255), columns=4, rows=4, inverse=True),
            "checkerboard inverse 4 x 4, 255 and 0",
        ),
        (Patch("spot", grey(255), area_percent=1.5, at=(0.1, 0.9)), "spot 1.5 % at 0.1, 0.9, 255 on 0"),
    ],
)
def test_patches_in_words(patch: Patch, text: str) -> None:
    assert patch_words(Step("a/b", "a", "readings", patch, {})) == text


def test_what_only_a_hand_can_do_is_said_in_words() -> None:
    plan = plan_of("  - luminance: {}", "plan: p\nwarm_up: none\ndark_offset: {}\n")
    steps = expand(plan, {})
    before = before_each(steps, manual_moves=True)
    text = render_plan(estimate(steps, AnyBench().timing, plan), plan="p", bench="any", steps=steps, before=before)
    assert "-- Put the cap on the meter, so that no light reaches it" in text
    assert "-- Take the cap off the meter, and put it to the centre of the screen" in text
    assert "0 % of the width" not in text
