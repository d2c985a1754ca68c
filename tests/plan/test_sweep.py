"""Sweeps: every point once, fewest changes, least settling, conditions, and what the operator is told."""

from __future__ import annotations

import random
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.plan import plan_store
from benchd.plan.estimate import estimate
from benchd.plan.plan import Plan
from benchd.plan.steps import REFERENCE, describe, digest, expand
from benchd.plan.sweep import Point, Swept, changes, label, points
from benchd.profile.bench import Timing
from tests.plan.helpers import refusal

SEED = 11

sweeps = st.lists(st.tuples(st.integers(1, 5), st.sampled_from([0.0, 0.5, 2.0, 5.0])), min_size=1, max_size=3).map(
    lambda drawn: tuple(
        Swept(control=f"c{index}", values=list(range(count)), settle_s=settle_s)  # type: ignore[arg-type]
        for index, (count, settle_s) in enumerate(drawn)
    )
)


def load(text: str) -> Plan:
    return plan_store.load_plan(text, "sweep.yaml", {}.__getitem__)


def faults(text: str) -> str:
    return str(refusal(load, text))


@settings(max_examples=80, derandomize=True, deadline=None)
@given(sweeps)
def test_every_point_once_and_one_change_from_each_to_the_next(sweep: tuple[Swept, ...]) -> None:
    order = points(sweep, (), ())
    assert sorted(order) == sorted(
        tuple(zip((one.control for one in sweep), values, strict=True))
        for values in product(*(s.values for s in sweep))
    )
    for before, after in pairwise(order):
        assert sum(a != b for a, b in zip(before, after, strict=True)) == 1


@settings(max_examples=60, derandomize=True, deadline=None)
@given(sweeps)
def test_no_other_order_settles_sooner(sweep: tuple[Swept, ...]) -> None:
    order = list(points(sweep, (), ()))
    minimum_s = changes(order, sweep)
    # The floor: each point but the first costs at least one change, and a slow control that has n values
    # must change n - 1 times.
    slowest = sorted((one.settle_s, len(one.values)) for one in sweep)[::-1]
    floor_s, loops = sum(settle_s for settle_s, _ in slowest), 1
    for settle_s, count in slowest:
        floor_s += settle_s * loops * (count - 1)
        loops *= count
    assert minimum_s == pytest.approx(floor_s)
    generator = random.Random(SEED)
    for _ in range(5):
        generator.shuffle(order)
        assert changes(order, sweep) >= minimum_s - 1e-9, f"seed {SEED}"


def test_conditions_leave_points_out() -> None:
    plan = load(
        "plan: p\nwarm_up: none\nsweep:\n"
        "  - {control: preset, values: [standard, warm]}\n"
        "  - {control: brightness, values: {from: 0, to: 100, step: 50}}\n"
        "skip: [{preset: warm, brightness: [0, 100]}]\n"
        "blocks:\n  - luminance: {}\n  - grayscale: {steps: 2, only: [{brightness: 50}]}\n"
    )
    steps = expand(plan, {})
    blocks = {step.block for step in steps}
    assert blocks == {
        "preset=standard,brightness=0/luminance",
        "preset=standard,brightness=50/luminance",
        "preset=standard,brightness=50/grayscale",
        "preset=standard,brightness=100/luminance",
        "preset=warm,brightness=50/luminance",
        "preset=warm,brightness=50/grayscale",
    }
    assert {entry["name"] for entry in describe(plan, {})} == blocks
    assert len({step.id for step in steps}) == len(steps)
    for entry in describe(plan, {}):
        assert label(tuple(entry["settings"].items())) + "/" + entry["base"] == entry["name"]
    for step in steps:
        assert step.block.startswith(label(step.settings))
        assert step.base in ("luminance", "grayscale")


def test_settings_are_part_of_the_digest() -> None:
    text = "plan: p\nwarm_up: none\nsweep: [{control: brightness, values: [1, 2]}]\nblocks: [{luminance: {}}]\n"
    other = text.replace("[1, 2]", "[2, 1]")
    assert digest(expand(load(text), {})) != digest(expand(load(other), {}))


def test_an_estimate_counts_the_settling_of_controls() -> None:
    text = (
        "plan: p\nwarm_up: none\nsweep: [{control: brightness, values: [1, 2, 3], settle_s: 7}]\n"
        "blocks: [{luminance: {}}]\n"
    )
    swept = load(text)
    plain = load("plan: p\nwarm_up: none\nblocks: [{luminance: {}}]\n")
    once_s = estimate(expand(plain, {}), Timing(), plain).minimum_s
    assert estimate(expand(swept, {}), Timing(), swept).minimum_s == pytest.approx(3 * once_s + 3 * 7)


def test_references_stand_at_the_start_of_each_point_and_at_intervals_at_the_centre() -> None:
    plan = load(
        "plan: p\nwarm_up: none\nsweep: [{control: brightness, values: [1, 2]}]\nreference: {every_min: 1}\n"
        "blocks: [{grayscale: {steps: 64}}, {uniformity: {grid: 3x3}}]\n"
    )
    steps = expand(plan, {})
    numbers = [step for step in steps if step.base == REFERENCE]
    assert [step.id for step in numbers[:2]] == ["brightness=1/reference/1", "brightness=1/reference/2"]
    assert all(step.at == (0.5, 0.5) for step in numbers)
    first = {step.settings: step for step in reversed(steps)}
    assert all(step.base == REFERENCE for step in first.values())
    assert [entry["kind"] for entry in describe(plan, {})].count("reference") == 2


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("sweep: [{control: brightness, values: []}]", "write a list"),
        ("sweep: [{control: brightness, values: [1, 1]}]", "value 1 stands twice"),
        ("sweep: [{control: brightness, values: {from: 0, to: 10, step: -1}}]", "that is no list of 1 to 1001"),
        ("sweep: [{control: brightness, values: {from: 0, to: 10}}]", "three numbers"),
        ("sweep: [{control: brightness, values: ['a/b']}]", "a name without / , and ="),
        ("sweep: [{control: b, values: [1]}, {control: b, values: [2]}]", "control 'b' is swept twice"),
        ("sweep: [{control: b, values: [1]}]\nskip: [{c: 1}]", "control 'c' is not swept; swept are: b"),
        ("sweep: [{control: b, values: [1, 2]}]\nskip: [{b: [2, 3]}]", "b is never 3 in this plan; its values are: 1"),
        ("sweep: [{control: b, values: [x]}]\nonly: [{b: y}]", "b is never 'y' in this plan; its values are: x"),
        ("only: [{c: 1}]", "control 'c' is not swept; this plan has no sweep"),
        ("sweep: [{control: b, values: [1]}]\nskip: [1]", "write {control: value}"),
    ],
)
def test_faults_of_a_sweep_are_sentences_with_their_place(text: str, told: str) -> None:
    found = faults(f"plan: p\nwarm_up: none\n{text}\nblocks: [{{luminance: {{}}}}]\n")
    assert told in found
    assert found.startswith("sweep.yaml:")


def test_a_range_includes_both_ends_and_keeps_whole_numbers_whole() -> None:
    swept = Swept(control="b", values={"from": 0, "to": 100, "step": 10})  # type: ignore[arg-type]
    assert swept.values == tuple(range(0, 101, 10))
    assert all(isinstance(value, int) for value in swept.values)
    fine = Swept(control="b", values={"from": 0, "to": 0.3, "step": 0.1})  # type: ignore[arg-type]
    assert fine.values == (0.0, 0.1, 0.2, 0.3)
    down = Swept(control="b", values={"from": 100, "to": 0, "step": -50})  # type: ignore[arg-type]
    assert down.values == (100, 50, 0)


def test_a_plan_without_a_sweep_has_one_empty_point() -> None:
    empty: Point = ()
    assert points((), (), ()) == (empty,)
