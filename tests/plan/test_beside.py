"""Dark offset and ambient light in a plan: where they are read, what is refused, and how a hand is asked."""

from __future__ import annotations

import pytest

from benchd.plan.run_order import run_order
from benchd.plan.step import CAPPED, CENTRE, SCREEN_OFF
from benchd.plan.steps import describe, expand
from tests.plan.helpers import faults, plan_of

BLOCKS = "  - luminance: {}\n  - uniformity: {grid: 3x3}"


def ids(head: str, blocks: str = BLOCKS) -> list[str]:
    return [step.id for step in expand(plan_of(blocks, f"plan: p\nwarm_up: none\n{head}\n"), {})]


def test_a_plan_that_says_nothing_reads_nothing_beside() -> None:
    assert not [name for name in ids("seed: 1") if "offset" in name or "ambient" in name]


def test_the_dark_offset_is_read_before_and_after_under_its_own_name() -> None:
    found = ids("dark_offset: {}")
    assert found[0] == "dark_offset/1"
    assert found[-1] == "dark_offset/2"
    plan = plan_of(BLOCKS, "plan: p\nwarm_up: none\ndark_offset: {}\n")
    first = expand(plan, {})[0]
    assert (first.place, first.block, first.readings, first.integration_s) == (CAPPED, "dark_offset", 5, 1.0)
    entry = describe(plan, {})[-1]
    assert entry == {"name": "dark_offset", "kind": "dark_offset", "screen": "capped", "subtract": False}


def test_hourly_means_an_hour_of_planned_time_at_the_centre() -> None:
    head = "dark_offset: {when: [hourly]}\nsettle_s: 60\ndark_settle_s: 60"
    steps = expand(plan_of("  - grayscale: {steps: 200}", f"plan: p\nwarm_up: none\n{head}\n"), {})
    places = [index for index, step in enumerate(steps) if step.block == "dark_offset"]
    assert len(places) == 3
    for before, after in zip([0, *places], places, strict=False):
        passed = sum(step.settle_s + step.readings * (step.integration_s or 1.0) for step in steps[before:after])
        assert 3600.0 <= passed <= 3600.0 + 130.0
    assert all(steps[index].settings == steps[index - 1].settings for index in places)


def test_a_warm_up_comes_first() -> None:
    plan = plan_of(BLOCKS, "plan: p\nwarm_up: {minutes: 5}\ndark_offset: {}\n")
    assert [step.id for step in expand(plan, {})][:2] == ["warm-up", "dark_offset/1"]


def test_in_a_sweep_they_are_read_once_and_the_display_stays_as_it_is() -> None:
    head = "plan: p\nwarm_up: none\nsweep: [{control: brightness, values: [1, 2]}]\ndark_offset: {}\n"
    plan = plan_of("  - luminance: {}", head)
    steps = expand(plan, {})
    assert [step.id for step in steps if step.block == "dark_offset"] == ["dark_offset/1", "dark_offset/2"]
    assert steps[0].settings == steps[1].settings
    assert steps[-1].settings == steps[-2].settings
    assert "settings" not in describe(plan, {})[-1]


def test_ambient_light_is_read_on_a_black_screen_or_with_the_display_off() -> None:
    black = expand(plan_of(BLOCKS, "plan: p\nwarm_up: none\nambient: {}\n"), {})[-1]
    assert (black.id, black.at, black.patch.code) == ("ambient/1", CENTRE, (0, 0, 0))
    off = expand(plan_of(BLOCKS, "plan: p\nwarm_up: none\nambient: {screen: off}\n"), {})[-1]
    assert off.place == SCREEN_OFF


def test_where_a_hand_moves_the_meter_the_cap_still_comes_first_and_last() -> None:
    plan = plan_of(BLOCKS, "plan: p\nwarm_up: none\ndark_offset: {}\n")
    found = [step.id for step in run_order(expand(plan, {}), manual_moves=True)]
    assert found[0] == "dark_offset/1"
    assert found[-1] == "dark_offset/2"
    assert found[1:3] == ["luminance/black", "luminance/white"]


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ("subtract: dark_offset", "'dark_offset' is to be subtracted but not read; write dark_offset: {} too"),
        ("ambient: {}\nsubtract: ambient", "ambient can't be subtracted: the black screen's own light is in it"),
        (
            "dark_offset: {}\nambient: {screen: off}\nsubtract: [dark_offset, ambient]",
            "the ambient reading has the dark offset in it; subtract one of the two",
        ),
        ("dark_offset: {}\nsubtract: everything", "what can be subtracted is dark_offset or ambient, by name"),
        ("dark_offset: {when: [before, before]}", "moment 'before' is given twice"),
        ("dark_offset: {readings: 1}", "readings 1: use 2 to 1000"),
        ("dark_offset: {when: []}", "when"),
    ],
)
def test_what_can_not_be_is_refused(keys: str, told: str) -> None:
    found = faults(f"plan: night\nwarm_up: none\n{keys}\nblocks: [{{luminance: {{}}}}]\n")
    assert any(told in line for line in found), found


def test_a_block_may_not_have_their_names() -> None:
    (found,) = faults("plan: night\nwarm_up: none\nblocks: [{luminance: {name: dark_offset}}]\n")
    assert "'dark_offset' is the name of the readings with the cap on" in found
