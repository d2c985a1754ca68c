"""Flashing and static light. Thresholds from WCAG 2.x, success criterion 2.3.1 and its definitions."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from benchd.errors import ProfileError
from benchd.patch.model import Patch, field, grey
from benchd.plan.safety import (
    MIN_AUTO_INTEGRATION_S,
    alternations,
    cautions,
    is_alternation,
    minimum_dwell_s,
    relative_luminance,
)
from benchd.plan.step import Step
from benchd.plan.steps import expand
from benchd.profile.bench import Bench
from benchd.profile.profile_store import load_bench
from tests.plan.helpers import HEAD, plan_of, refusal, steps_of


def bench(panel: str, stage: str = "") -> Bench:
    """An invented bench."""
    text = f"bench: b\npanel: {panel}\nscreen: {{}}\ninstruments: {{meter: {{command: [x]}}{stage}}}\n"
    return load_bench(text, "b.yaml")


def test_relative_luminance_is_that_of_srgb() -> None:
    # WCAG, relative luminance: weights .2126 .7152 .0722; code 128 has .21586 (IEC 61966-2-1).
    assert relative_luminance((1, 0, 0)) == pytest.approx(0.2126)
    assert relative_luminance((0, 1, 0)) == pytest.approx(0.7152)
    assert relative_luminance((1, 1, 1)) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (0, 255, True),
        (0, 89, False),  # relative luminance .0999: sRGB code 89
        (0, 90, True),  # .1022
        (230, 255, True),  # the darker state has .791, below .80
        (232, 255, False),  # .807: both are bright
        (128, 128, False),
        (100, 128, False),  # .127 and .216
    ],
)
def test_a_general_flash_is_a_tenth_of_the_maximum_with_the_darker_below_80_percent(
    before: int, after: int, expected: bool
) -> None:
    assert is_alternation(field(grey(before)), field(grey(after))) is expected
    assert is_alternation(field(grey(after)), field(grey(before))) is expected


def test_saturated_red_counts_by_its_colour() -> None:
    dark_red, dark_grey = field((140, 0, 0)), field((70, 70, 70))
    # .0560 and .0612 of luminance: no general flash, but du'v' .26.
    assert is_alternation(dark_red, dark_grey)
    assert not is_alternation(field((0, 0, 140)), dark_grey)
    assert not is_alternation(dark_red, field((150, 0, 0)))


def test_every_part_of_the_screen_counts() -> None:
    board = Patch("checkerboard", grey(255))
    inverse = Patch("checkerboard", grey(255), inverse=True)
    assert is_alternation(board, inverse)  # the mean light stays the same
    assert is_alternation(field(grey(255)), board)
    small, large = (Patch("window", grey(255), area_percent=area) for area in (1, 2))
    assert is_alternation(small, large)
    assert not is_alternation(small, Patch("window", grey(255), area_percent=1))
    assert not is_alternation(Patch("window", grey(9), area_percent=1), Patch("window", grey(9), area_percent=50))
    spot = Patch("spot", grey(255), area_percent=0.5, at=(0.1, 0.1))
    assert is_alternation(spot, Patch("spot", grey(255), area_percent=0.5, at=(0.9, 0.9)))
    assert is_alternation(field((1023,) * 3, 10), field(grey(0)))
    assert not is_alternation(field((1023,) * 3, 10), field(grey(255)))


def test_a_change_in_small_steps_counts_too() -> None:
    # Neighbours differ by less than a tenth of luminance, the ends by far more: 0, 80, 115, 80, 0 in 0.4 s each.
    codes = [0, 80, 115, 80, 0]
    steps = [
        Step(str(n), "b", "readings", field(grey(code)), {}, readings=1, settle_s=0.2) for n, code in enumerate(codes)
    ]
    assert not any(is_alternation(a.patch, b.patch) for a, b in pairwise(steps))
    assert [step for _, step in alternations(steps)] == [2, 4]


BLOCKS = st.one_of(
    st.just("luminance: {}"),
    st.just("contrast: {kinds: [sequential, checkerboard]}"),
    st.integers(2, 30).map(lambda steps: f"grayscale: {{steps: {steps}}}"),
    st.integers(2, 9).map(lambda steps: f"grayscale: {{steps: {steps}, area_percent: 10, surround_percent: 60}}"),
    st.just("uniformity: {grid: 3x2, levels_percent: [100, 40, 0]}"),
    st.just(
        "patches: {list: [{name: r, code: [255, 0, 0]}, {name: d, code: 60}, {name: w, code: 255, area_percent: 4}]}"
    ),
)


def accepted(blocks: str, head: str) -> tuple[Step, ...] | None:
    """The steps of a plan; None where it is refused for its pace, and never for anything else."""
    try:
        return steps_of(blocks, head)
    except ProfileError as error:
        told = str(error)
    assert all("at most one change a second is allowed" in line for line in told.splitlines())
    return None


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    st.lists(BLOCKS, min_size=1, max_size=3, unique_by=lambda text: text.partition(":")[0]),
    st.sampled_from([0.0, 0.1, 0.3, 0.5, 0.6, 0.8, 1.0]),
    st.sampled_from([0.0, 0.3, 0.8, 3.0]),
    st.integers(1, 4),
    st.integers(1, 5),
    st.sampled_from(["auto", "0.1", "0.25", "1"]),
    st.sampled_from(["listed", "shuffled"]),
    st.integers(0, 99),
)
def test_no_accepted_plan_changes_light_and_dark_twice_in_a_second(
    blocks: list[str],
    settle_s: float,
    dark_settle_s: float,
    readings: int,
    dark_readings: int,
    integration: str,
    order: str,
    seed: int,
) -> None:
    head = (
        f"{HEAD}settle_s: {settle_s}\ndark_settle_s: {dark_settle_s}\nreadings: {readings}\norder: {order}\n"
        f"dark_readings: {dark_readings}\nintegration_s: {integration}\ndark_integration_s: {integration}\n"
        f"seed: {seed}\n"
    )
    text = "\n".join(f"  - {block}" for block in blocks)
    steps = accepted(text, head)
    assume(steps is not None)
    assert steps is not None
    # Counted here from first principles: a timeline of what is on the screen, black before and after.
    at_s, before, last_s = 0.0, field(grey(0)), -1.0
    for patch, dwell_s in [*((step.patch, minimum_dwell_s(step)) for step in steps), (field(grey(0)), 0.0)]:
        if is_alternation(before, patch):
            assert at_s - last_s >= 1.0 - 1e-9
            last_s = at_s
        at_s, before = at_s + dwell_s, patch


def test_the_remedy_that_is_told_is_enough() -> None:
    block = "  - grayscale: {steps: 11}"
    for readings in (1, 2, 3):
        refused = refusal(plan_of, block, f"{HEAD}readings: {readings}\nsettle_s: 0\ndark_settle_s: 1\n")
        told = str(refused).rpartition("use settle_s: ")[2].removesuffix(" or more")
        assert float(told) == pytest.approx(1 - readings * MIN_AUTO_INTEGRATION_S)
        plan_of(block, f"{HEAD}readings: {readings}\nsettle_s: {told}\ndark_settle_s: 1\n")


def test_the_warm_up_lasts_longer_than_a_second() -> None:
    plan = plan_of("  - luminance: {}", "plan: p\nwarm_up: {minutes: 1}\n")
    assert minimum_dwell_s(expand(plan, {})[0]) == 60.0


def test_cautions() -> None:
    white = "  - uniformity: {grid: 9x9}"
    plan, steps = plan_of(white), steps_of(white)
    (flashing,) = cautions(plan, steps, bench("lcd"))
    assert flashing.startswith("patches change between dark and bright, at most one change a second")
    # 81 places of 0.05 + 0.6 + 3 x 0.6 s and 15 s for each of 80 moves: 23 min of one white.
    _, static = cautions(plan, steps, bench("emissive", ", stage: {command: [x]}"))
    assert static.startswith("an emissive panel may keep an image: uniformity of plan invented leaves one bright patch")
    assert "about 23 min" in static
    # A hand is shown another pattern at every move, so nothing stands for long.
    assert len(cautions(plan, steps, bench("emissive"))) == 1
    dim = "  - grayscale: {codes: [10, 20, 30]}"
    assert cautions(plan_of(dim), steps_of(dim), bench("emissive")) == ()
