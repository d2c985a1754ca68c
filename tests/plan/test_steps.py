"""Plan -> steps: codes, places, order, ids. Figures from published sources and from arithmetic by hand."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.measurements.grayscale.plan import grayscale_codes
from benchd.measurements.uniformity.plan import positions
from benchd.patch.model import Patch
from benchd.plan.layout import level_code
from benchd.plan.plan import WarmUpLimits
from benchd.plan.run_order import before_each
from benchd.plan.steps import describe, digest, expand
from benchd.plan.steps import settings as settings_of
from tests.plan.helpers import HEAD, plan_of, steps_of

LISTED = f"{HEAD}order: listed\n"
ALL = """\
  - luminance: {}
  - contrast: {kinds: [sequential, checkerboard]}
  - grayscale: {steps: 21}
  - uniformity: {grid: 5x3, levels_percent: [100, 50, 0]}
  - patches: {list: [{name: red, code: [255, 0, 0]}, {name: window, code: 128, area_percent: 10, surround: 51}]}
"""


def test_levels_are_rounded_half_up() -> None:
    # 10 % steps in 8 bits, half up: Python's round would give 76 and 178 (arithmetic: 0.3 x 255 = 76.5).
    tens = [0, 26, 51, 77, 102, 128, 153, 179, 204, 230, 255]
    assert [level_code(percent, 8) for percent in range(0, 101, 10)] == tens
    assert list(grayscale_codes(plan_of("  - grayscale: {steps: 11}").blocks[0].grayscale, 8)) == tens  # type: ignore[arg-type]
    # 7 levels: 42.5 and 212.5 are halves too.
    steps = steps_of("  - grayscale: {steps: 7}", LISTED)
    assert [step.labels["code"] for step in steps] == [0, 43, 85, 128, 170, 213, 255]


@pytest.mark.parametrize("bits", [8, 10])
def test_equal_steps_are_exact_for_every_count(bits: int) -> None:
    top = 2**bits - 1
    for count in range(2, top + 2):
        block = plan_of(f"  - grayscale: {{steps: {count}}}", f"{HEAD}bits: {bits}\n").blocks[0].grayscale
        assert block is not None
        codes = grayscale_codes(block, bits)
        # Half up in whole numbers: the largest code c with (2c - 1) / 2 <= i top / (count - 1).
        assert all(
            (2 * code - 1) * (count - 1) <= 2 * index * top < (2 * code + 1) * (count - 1)
            for index, code in enumerate(codes)
        )
        assert len(set(codes)) == count
        if count > 40:
            break
    full = plan_of(f"  - grayscale: {{steps: {top + 1}}}", f"{HEAD}bits: {bits}\n").blocks[0].grayscale
    assert full is not None
    assert list(grayscale_codes(full, bits)) == list(range(top + 1))


def test_positions_are_those_of_the_sampled_uniformity_methods() -> None:
    # FPDM 306-1, IDMS chapter 8, ISO 9241-307 style (from memory): 9 and 25 places.
    assert positions(3, 10) == (0.1, 0.5, 0.9)
    assert positions(5, 10) == (0.1, 0.3, 0.5, 0.7, 0.9)
    assert positions(1, 10) == (0.5,)
    # Centres of a 5 x 5 grid are the same 25 places (IEC 61947-1 style, from memory): margin half a cell.
    assert positions(5, 10) == tuple((2 * index + 1) / 10 for index in range(5))
    assert positions(2, 25) == (0.25, 0.75)


def test_a_grid_is_columns_by_rows() -> None:
    steps = steps_of("  - uniformity: {grid: 5x3}", LISTED)
    assert {step.id: step.at for step in steps}["uniformity/r3c5/white"] == (0.9, 0.9)
    assert {step.at for step in steps} == {(x, y) for x in (0.1, 0.3, 0.5, 0.7, 0.9) for y in (0.1, 0.5, 0.9)}


def test_the_checkerboard_puts_both_colours_on_every_place() -> None:
    # 16 zones, both polarities at every zone: after ANSI/INFOCOMM 3M-2011.
    steps = steps_of("  - contrast: {kinds: [checkerboard]}")
    assert len(steps) == 32
    for step in steps:
        row, column = int(step.labels["row"]), int(step.labels["column"])
        assert step.at == ((column - 0.5) / 4, (row - 0.5) / 4)
        # The meter sees what the labels says, on the pixels that the patch really draws.
        seen = step.patch.code_at(*step.at, 1366, 768)
        assert seen == ((255,) * 3 if step.labels["level"] == "white" else (0,) * 3)
        lit = (row + column) % 2 == 0
        assert (step.labels["level"] == "white") == (lit if step.labels["polarity"] == "normal" else not lit)
    assert Counter((step.place, step.labels["level"]) for step in steps).most_common(1)[0][1] == 1
    assert [step.id for step in steps if step.place == "r4c4"] in (
        ["contrast/checker/r4c4", "contrast/checker-inverse/r4c4"],
        ["contrast/checker-inverse/r4c4", "contrast/checker/r4c4"],
    )


def test_the_ids_and_roles_that_analysis_reads() -> None:
    roles = {step.id: step.labels for step in steps_of(ALL)}
    assert roles["luminance/white"] == {"level": "white"}
    assert roles["contrast/black"] == {"kind": "sequential", "level": "black"}
    assert roles["contrast/checker-inverse/r1c2"] == {
        "kind": "checkerboard",
        "polarity": "inverse",
        "row": 1,
        "column": 2,
        "level": "white",
    }
    assert roles["grayscale/code-128"] == {"code": 128}
    assert roles["uniformity/r2c3/grey50"] == {"row": 2, "column": 3, "level": "grey50", "level_percent": 50}
    assert roles["uniformity/r2c3/black"]["level"] == "black"
    assert roles["patches/red"] == {"name": "red"}
    named = steps_of("  - luminance: {name: before}\n  - luminance: {name: after}")
    assert [step.id for step in named] == ["before/black", "before/white", "after/black", "after/white"]


def test_windows_and_full_screens() -> None:
    patches = {step.id: step.patch for step in steps_of(ALL)}
    assert patches["patches/red"] == Patch("field", (255, 0, 0))
    assert patches["patches/window"] == Patch("window", (128,) * 3, 8, (51,) * 3, 10)
    window = steps_of("  - grayscale: {codes: [0, 1023], area_percent: 10, surround_percent: 20}", f"{HEAD}bits: 10\n")
    assert window[0].patch == Patch("window", window[0].patch.code, 10, (205,) * 3, 10)  # 204.6


def test_black_comes_before_white() -> None:
    assert [step.labels["level"] for step in steps_of("  - luminance: {}")] == ["black", "white"]


def test_dark_patches_are_treated_as_dark() -> None:
    head = f"{LISTED}settle_s: 1\ndark_settle_s: 4\nreadings: 2\ndark_readings: 6\ndark_integration_s: 2\n"
    steps = steps_of("  - grayscale: {codes: [12, 13]}", head)  # 5 % of 255 is 12.75
    assert [(s.settle_s, s.readings, s.integration_s, s.dark) for s in steps] == [(4, 6, 2, True), (1, 2, None, False)]
    own = "  - grayscale: {codes: [12, 13], dark_up_to_percent: 50, dark_readings: 9, dark_integration_s: auto}"
    assert [(s.readings, s.integration_s) for s in steps_of(own, head)] == [(9, None), (9, None)]
    # The code in front of the meter decides, not the rest of the screen.
    boards = steps_of("  - contrast: {kinds: [checkerboard]}", head)
    assert all(step.dark == (step.labels["level"] == "black") for step in boards)
    # One bright channel is light enough.
    blue = steps_of("  - patches: {list: [{name: blue, code: [0, 0, 255]}]}", head)
    assert not blue[0].dark


def test_the_warm_up_is_a_step_on_mid_grey() -> None:
    plan = plan_of("  - luminance: {}", "plan: p\nwarm_up: {minutes: 30}\n")
    first = expand(plan, {})[0]
    assert (first.id, first.kind, first.labels, first.patch.code) == ("warm-up", "warm_up", {}, (128,) * 3)
    assert plan.warm_up.limits == WarmUpLimits(30, 30, False)
    stable = plan_of("  - luminance: {}", "plan: p\nwarm_up: {until: stable, at_most_min: 45}\n")
    assert stable.warm_up.limits == WarmUpLimits(20, 45, True)
    assert plan_of("  - luminance: {}", "plan: p\n").warm_up.limits == WarmUpLimits(20, 60, True)
    assert plan_of("  - luminance: {}").warm_up.limits is None
    assert [step.kind for step in steps_of("  - luminance: {}")] == ["measure", "measure"]


def test_the_same_plan_gives_the_same_steps_for_ever() -> None:
    # A fixed digest: whoever changes ids, order or patches breaks the resuming of logs, and must know it.
    assert digest(steps_of(ALL)) == "7c9012c10e6329ae77b17a29c0e09206985ec29f0f7f5268f07b0e51879660d8"
    assert digest(steps_of(ALL)) == digest(steps_of(ALL))
    assert digest(steps_of(ALL, f"{HEAD}seed: 2\n")) != digest(steps_of(ALL))
    assert digest(steps_of(ALL, f"{HEAD}settle_s: 0.7\n")) != digest(steps_of(ALL))
    codes = [step.labels["code"] for step in steps_of("  - grayscale: {codes: [0, 1, 2, 3, 4, 5, 6, 7]}")]
    assert codes == [5, 7, 4, 2, 3, 6, 1, 0]


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.integers(0, 2**31 - 1), st.integers(2, 40))
def test_shuffling_changes_the_order_and_nothing_else(seed: int, count: int) -> None:
    block = f"  - grayscale: {{steps: {count}}}"
    shuffled = steps_of(block, f"{HEAD}seed: {seed}\n")
    listed = steps_of(block, LISTED)
    assert sorted(shuffled, key=lambda step: step.id) == sorted(listed, key=lambda step: step.id)
    assert [step.labels["code"] for step in listed] == sorted(int(step.labels["code"]) for step in listed)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    st.lists(st.sampled_from(["luminance", "grayscale", "contrast", "uniformity"]), min_size=1, max_size=5),
    st.integers(2, 9),
    st.integers(1, 9),
    st.sampled_from(["listed", "shuffled"]),
)
def test_moves_are_the_fewest(kinds: list[str], columns: int, rows: int, order: str) -> None:
    """Blocks stand in the plan's order; within one, every place is gone to once, and the first is at no cost."""
    bodies = {
        "luminance": "",
        "contrast": "kinds: [checkerboard, sequential]",
        "grayscale": "steps: 5",
        "uniformity": f"grid: {columns}x{rows}, levels_percent: [100, 50, 20]",
    }
    text = "\n".join(f"  - {kind}: {{name: b{n}, {bodies[kind]}}}" for n, kind in enumerate(kinds))
    steps = steps_of(text.replace(", }", "}"), f"{HEAD}order: {order}\n")
    assert len({step.id for step in steps}) == len(steps)
    moves = [one.moved for one in before_each(steps, manual_moves=False)]
    # Lower bound: every place of a block costs one move, except the one that the meter stands on already.
    here: tuple[float, float] | None = (0.5, 0.5) if all(step.at == (0.5, 0.5) for step in steps) else None
    least = 0
    for number in range(len(kinds)):
        own = [step for step in steps if step.block == f"b{number}"]
        places = {step.at for step in own}
        least += len(places) - (here in places)
        here = own[-1].at
    assert sum(moves) == least


def test_the_meter_goes_row_by_row_there_and_back() -> None:
    steps = steps_of("  - uniformity: {grid: 3x3, levels_percent: [100, 50]}", LISTED)
    places = [step.place for step in steps][::2]
    assert places == ["r2c2", "r1c1", "r1c2", "r1c3", "r2c3", "r2c1", "r3c1", "r3c2", "r3c3"]
    # Levels turn round at every other place: the screen does not change when the meter moves.
    assert [step.labels["level"] for step in steps[:4]] == ["white", "grey50", "grey50", "white"]
    assert all(a.patch == b.patch for a, b in pairwise(steps) if a.place != b.place)


def test_the_description_names_what_must_be_there() -> None:
    assert describe(plan_of(ALL), {}) == [
        {"name": "luminance", "kind": "luminance"},
        {"name": "contrast", "kind": "contrast", "kinds": ["sequential", "checkerboard"], "columns": 4, "rows": 4},
        {
            "name": "grayscale",
            "kind": "grayscale",
            "codes": [0, 13, 26, 38, 51, 64, 77, 89, 102, 115, 128, 140, 153, 166, 179, 191, 204, 217, 230, 242, 255],
            "bits": 8,
            "white": "target",
            "area_percent": 100,
            "surround_percent": 0,
        },
        {
            "name": "uniformity",
            "kind": "uniformity",
            "columns": 5,
            "rows": 3,
            "levels": [
                {"level": "white", "percent": 100, "code": 255},
                {"level": "grey50", "percent": 50, "code": 128},
                {"level": "black", "percent": 0, "code": 0},
            ],
            "margin_percent": 10,
        },
        {"name": "patches", "kind": "patches", "names": ["red", "window"]},
    ]
    assert settings_of(plan_of(ALL)) == {
        "settle_s": 0.6,
        "dark_settle_s": 3.0,
        "readings": 3,
        "dark_readings": 5,
        "order": "shuffled",
        "seed": 1,
        "bits": 8,
    }
