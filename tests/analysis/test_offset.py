"""Dark offset and ambient light: taken off by name only, with their uncertainty; refused where nobody can tell them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.meter_model.metrology import OFFSET
from benchd.analysis.results import Results
from tests.analysis.logs import Log, xyz
from tests.oracles import stats

LUMINANCE = {"name": "luminance", "kind": "luminance"}
B = (0.0106, 0.0098, 0.0109, 0.0101, 0.0103)
D = (0.0096, 0.0103, 0.0100, 0.0105, 0.0096)


def log_of(
    kind: str,
    beside: Sequence[Sequence[float]],
    black: Sequence[float] = B,
    *,
    subtract: bool = True,
    floor: float | None = None,
    white: float = 412.0,
) -> Results:
    screen = "capped" if kind == "dark_offset" else "off"
    entry: dict[str, Any] = {"name": kind, "kind": kind, "screen": screen, "subtract": subtract}
    meter = {"model": "invented", "serial_number": "1", "floor_cd_m2": floor, "ceiling_cd_m2": None}
    log = Log([LUMINANCE, entry], meter=meter)
    for number, values in enumerate(beside, start=1):
        # A capped meter may read below zero, and then has no chromaticity that would mean anything.
        log.measure(
            f"{kind}/{number}", {"number": number}, [[value, value, value] for value in values], code=0, at=(0.0, 0.0)
        )
    log.measure("luminance/black", {"level": "black"}, [[value, value, value] for value in black], code=0)
    log.measure("luminance/white", {"level": "white"}, [xyz(white), xyz(white * 1.0005), xyz(white * 0.9995)])
    return analyse(log.end())


def test_nothing_is_taken_off_unless_the_plan_says_so() -> None:
    results = log_of("dark_offset", [D], subtract=False)
    (offset,) = results.offsets
    assert results.of("luminance")[0].black.value == pytest.approx(sum(B) / 5)
    assert offset.luminance.value == pytest.approx(0.0100)
    assert (offset.subtracted, offset.why) == (0, "the plan does not request it")


def test_the_net_light_is_the_difference_of_the_means_and_u_has_both() -> None:
    """Net mean(b) - mean(d), u = sqrt(s_b^2 / n + s_d^2 / n_d): Currie 1968, ISO 11843 (from memory)."""
    black = (0.5106, 0.5098, 0.5109, 0.5101, 0.5103)
    results = log_of("dark_offset", [D], black)
    figure = results.of("luminance")[0].black
    assert figure.value == pytest.approx(sum(black) / 5 - sum(D) / 5)
    s_d = math.sqrt(sum((d - sum(D) / 5) ** 2 for d in D) / 4)
    s_b = math.sqrt(sum((b - sum(black) / 5) ** 2 for b in black) / 4)
    assert figure.u == pytest.approx(math.sqrt(s_b**2 / 5 + s_d**2 / 5), rel=1e-6)
    assert results.offsets[0].subtracted == 2
    assert results.of("luminance")[0].white.value == pytest.approx(412.0 - sum(D) / 5)


def test_what_is_left_of_black_is_a_bound_where_the_offset_explains_it() -> None:
    results = log_of("dark_offset", [D])
    black = results.of("luminance")[0].black
    assert black.bound == "below"
    net, parts = sum(B) / 5 - sum(D) / 5, [_variance(one) / 5 for one in (B, D)]
    dof = sum(parts) ** 2 / sum(part**2 / 4 for part in parts)  # Welch-Satterthwaite, JCGM 100, G.2b
    assert black.value == pytest.approx(net + stats.t.ppf(0.975, dof) * math.sqrt(sum(parts)), rel=1e-4)


def _variance(values: Sequence[float]) -> float:
    middle = sum(values) / len(values)
    return sum((value - middle) ** 2 for value in values) / (len(values) - 1)


def test_several_occasions_that_differ_make_it_less_certain() -> None:
    later = tuple(value + 0.004 for value in D)
    (offset,) = log_of("dark_offset", [D, later]).offsets
    assert offset.luminance.value == pytest.approx(0.0120)
    assert offset.luminance.u == pytest.approx(0.004 / math.sqrt(2) / math.sqrt(2), rel=1e-6)
    assert [one.luminance.value for one in offset.readings] == pytest.approx([0.0100, 0.0140])


def test_what_two_patches_share_has_one_name() -> None:
    results = log_of("dark_offset", [D], (0.5106, 0.5098, 0.5109, 0.5101, 0.5103))
    shared = []
    for figure in (results.of("luminance")[0].black, results.of("luminance")[0].white):
        assert figure.sources is not None
        shared.append({one: part for one, part in (figure.sources.contributions() or {}).items() if OFFSET in one.name})
    assert shared[0]
    assert shared[0].keys() == shared[1].keys()
    assert all(part < 0.0 for part in shared[0].values())


def test_a_meter_without_figures_under_its_cap_can_not_be_corrected() -> None:
    entry = {"name": "dark_offset", "kind": "dark_offset", "screen": "capped", "subtract": True}
    log = Log([LUMINANCE, entry])
    log.measure("dark_offset/1", {"number": 1}, [None, None, None], code=0, status="under")
    log.measure("luminance/black", {"level": "black"}, [xyz(0.2), xyz(0.2), xyz(0.2001)], code=0)
    results = analyse(log.end())
    assert results.of("luminance")[0].black.value == pytest.approx(0.2000333, rel=1e-5)
    assert results.offsets[0].why == "fewer than two of its readings have values"


ROOM = (0.0200, 0.0202, 0.0198, 0.0201, 0.0199)
BLACK = (0.2201, 0.2199, 0.2200, 0.2202, 0.2198)


def test_the_room_is_taken_off_where_both_are_above_the_meters_limit() -> None:
    """Method after IEC 62977-2-1:2021, 5.2: both above the limit, and closeness to it reported."""
    results = log_of("ambient", [ROOM], BLACK, floor=0.005)
    assert results.of("luminance")[0].black.value == pytest.approx(0.2)
    (offset,) = results.offsets
    assert offset.subtracted == 2
    assert offset.why == "it is more than a twentieth of the darkest patch; darken the room"


def test_closeness_to_the_limit_is_said() -> None:
    (offset,) = log_of("ambient", [ROOM], BLACK, floor=0.01).offsets
    assert offset.why.startswith("the room's light is only 2.0 times the meter's limit")


def test_a_room_below_the_limit_is_not_taken_off() -> None:
    results = log_of("ambient", [ROOM], BLACK, floor=0.05)
    assert results.of("luminance")[0].black.value == pytest.approx(0.22)
    assert results.offsets[0].why == ("the room's light is below the meter's limit of 0.05 cd/m2, so it may be none")


def test_a_black_below_the_limit_stays_as_it_was_read_and_is_named() -> None:
    dim = (0.0100, 0.0102, 0.0098, 0.0101, 0.0099)
    results = log_of("ambient", [ROOM], dim, floor=0.015)
    (offset,) = results.offsets
    assert offset.subtracted == 1
    assert offset.left_out == ("below the meter's limit of 0.015 cd/m2, left as read: luminance/black (1)",)


def test_what_was_not_read_is_missing() -> None:
    entry = {"name": "dark_offset", "kind": "dark_offset", "screen": "capped", "subtract": True}
    log = Log([LUMINANCE, entry])
    log.measure("luminance/black", {"level": "black"}, [xyz(0.2), xyz(0.2)], code=0)
    results = analyse(log.end())
    assert results.offsets[0].missing == "it was not read"
    assert ("dark_offset", "it was not read") in [(one.result, one.why) for one in results.absent]


def test_capped_readings_that_are_all_equal_are_no_surer_than_the_meter_s_last_digit() -> None:
    entry = {"name": "dark_offset", "kind": "dark_offset", "screen": "capped", "subtract": True}
    sent = {"quantities": ["X", "Y", "Z"], "units_cd_m2": [1.0]}
    step = {"rules": {name: {"ranges": [[None, 0.01]]} for name in "XYZ"}, "unit_cd_m2": 1.0, "by": "bench b"}
    log = Log([LUMINANCE, entry], resolution={"sent": sent, "stated": step})
    log.measure("dark_offset/1", {"number": 1}, [[0.02, 0.02, 0.02]] * 5, code=0, at=(0.0, 0.0))
    log.measure("luminance/black", {"level": "black"}, [[0.32, 0.32, 0.32]] * 5, code=0)
    results = analyse(log.end())
    assert results.offsets[0].luminance.u == pytest.approx(0.01 / math.sqrt(12.0))
    assert results.of("luminance")[0].black.u == pytest.approx(0.01 / math.sqrt(6.0)), (
        "the black's rounding and the cap's"
    )
