"""A precision in place of a count: how it is written, what contradicts it, and which steps it reaches."""

from __future__ import annotations

import itertools
from statistics import correlation, fmean

import pytest

from benchd.plan.blocks import fraction
from benchd.plan.plan import Plan
from benchd.plan.steps import digest, expand
from tests.plan.helpers import plan_from, refusal

BLOCKS = "blocks:\n  - luminance: {}\n  - grayscale: {steps: 5}\n"


def load(text: str) -> Plan:
    return plan_from("plan: p\nwarm_up: none\n" + text)


def fault(text: str) -> str:
    return str(refusal(load, text))


@pytest.mark.parametrize(("text", "value"), [("0.5 %", 0.005), ("0.5%", 0.005), ("1 %", 0.01), ("0.05 %", 5e-4)])
def test_a_percentage(text: str, value: float) -> None:
    plan = load(f"repeatability: {text}\n{BLOCKS}")
    assert plan.repeatability is not None
    assert fraction(plan.repeatability) == pytest.approx(value)


@pytest.mark.parametrize("text", ["0.5", "half", "'5 cd/m2'", "-1 %", "0 %", "50 %", "0.001 %", "true", "[0.5 %]"])
def test_anything_else_is_told_how_to_write_it(text: str) -> None:
    said = fault(f"repeatability: {text}\n{BLOCKS}")
    assert "repeatability" in said
    assert "0.01 % to 10 %" in said
    assert "p.yaml:3:16" in said


@pytest.mark.parametrize("key", ["readings: 3", "dark_readings: 5", "settle_s: 1", "dark_settle_s: 3"])
def test_what_contradicts_it(key: str) -> None:
    name = key.partition(":")[0]
    assert name in fault(f"repeatability: 0.5 %\n{key}\n{BLOCKS}")
    block = f"blocks:\n  - grayscale: {{steps: 5, repeatability: 0.5 %, {key}}}\n"
    assert name in fault(block)


def test_every_patch_is_asked_and_a_block_may_count_instead() -> None:
    plan = load("repeatability: 0.5 %\nreading_time_at_most_s: 20\n" + BLOCKS + "  - contrast: {readings: 7}\n")
    steps = expand(plan, {})
    asked = {step.block: step.precision for step in steps}
    assert asked["luminance"] == asked["grayscale"] == (0.005, 20.0, False)
    assert asked["contrast"] is None
    assert {step.readings for step in steps if step.block == "contrast" and not step.dark} == {7}


def test_a_block_may_ask_where_the_plan_counts() -> None:
    steps = expand(load("blocks:\n  - luminance: {}\n  - grayscale: {steps: 5, repeatability: 1 %}\n"), {})
    assert {step.block for step in steps if step.precision} == {"grayscale"}


def test_the_steps_digest_knows_the_precision() -> None:
    first, second, none = (
        digest(expand(load(how + BLOCKS), {})) for how in ("repeatability: 0.5 %\n", "repeatability: 1 %\n", "")
    )
    assert len({first, second, none}) == 3


def order(seed: int, count: int, how: str) -> list[int]:
    text = f"seed: {seed}\norder: {how}\nblocks:\n  - grayscale: {{steps: {count}}}\n"
    return [step.patch.code[0] for step in expand(load(text), {})]


@pytest.mark.parametrize("count", [11, 21, 52])
def test_there_and_back_does_not_let_drift_look_like_a_curve(count: int) -> None:
    """Neither the code nor the light goes with time, whatever the seed; and the steps are small."""
    for seed in range(20):
        codes = order(seed, count, "there_and_back")
        assert sorted(codes) == sorted(order(seed, count, "listed"))
        places = list(range(count))
        light = [(code / 255.0) ** 2.2 for code in codes]
        most = max(0.1, 2.0 / count)
        assert abs(correlation(places, codes)) < most
        assert abs(correlation(places, light)) < most
        jumps = [abs(second - first) for first, second in itertools.pairwise(codes)]
        assert max(jumps) <= 3 * 255 / (count - 1) + 2
    assert fmean(jumps) < 0.5 * fmean(
        abs(second - first)
        for codes in (order(seed, count, "shuffled") for seed in range(5))
        for first, second in itertools.pairwise(codes)
    )


def test_the_seed_says_which_of_two_neighbours_comes_first() -> None:
    assert len({tuple(order(seed, 21, "there_and_back")) for seed in range(10)}) > 5
    assert order(4, 21, "there_and_back") == order(4, 21, "there_and_back")
