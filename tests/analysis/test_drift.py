"""Drift of a reference patch: changes, the least-squares line, sessions, bounds, and the scatter it carries."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.results_log import Drift
from tests.analysis.logs import Log, xyz

BLOCK: dict[str, Any] = {"name": "reference", "kind": "reference", "percent": 100}
MINUTE_NS = 60_000_000_000


def read(log: Log, number: int, minute: float, values: list[float], status: str = "ok") -> None:
    log.now_ns = round(minute * MINUTE_NS)
    log.measure(f"reference/{number}", {"number": number}, [xyz(value) for value in values], status=status)


def drift_of(log: Log) -> Drift:
    return analyse(log.end()).drift[0]


def test_changes_and_slope_by_hand() -> None:
    # Invented: 100, 101, 102 and 105 cd/m2 at 0, 10, 20 and 30 min. By hand: mean time 15, mean light 102;
    # sum (t - 15)(L - 102) = 30 + 5 + 0 + 45 = 80; sum (t - 15)^2 = 500; 0.16 per min, 9.6 % per hour of 100.
    log = Log([BLOCK])
    for number, value in enumerate((100.0, 101.0, 102.0, 105.0)):
        read(log, number + 1, 10.0 * number, [value] * 3)
    got = drift_of(log)
    assert [one.minutes for one in got.readings] == [0.0, 10.0, 20.0, 30.0]
    assert [one.change.value for one in got.readings] == pytest.approx([0.0, 1.0, 2.0, 5.0])
    assert got.readings[0].change.s is None
    assert got.maximum_change.value == pytest.approx(5.0)
    assert got.maximum_at == "reference/4"
    (segment,) = got.segments
    assert (segment.session, segment.readings, segment.minutes) == (1, 4, 30.0)
    assert segment.per_hour.value == pytest.approx(9.6)
    assert segment.per_hour.unit == "%/h"
    assert "common practice" in got.method


def test_a_fall_is_a_negative_change() -> None:
    log = Log([BLOCK])
    read(log, 1, 0, [100.0] * 3)
    read(log, 2, 5, [97.0] * 3)
    got = drift_of(log)
    assert got.maximum_change.value == pytest.approx(-3.0)
    assert got.segments[0].per_hour.why == "a slope needs 3 readings in one session"


lights = st.lists(st.floats(50.0, 500.0), min_size=3, max_size=12)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(lights, st.data())
def test_the_slope_is_that_of_numpy_and_its_scatter_that_of_a_resampling(values: list[float], data: Any) -> None:
    minutes = sorted(data.draw(st.lists(st.integers(0, 600), min_size=len(values), max_size=len(values), unique=True)))
    log = Log([BLOCK])
    for number, (minute, value) in enumerate(zip(minutes, values, strict=True)):
        read(log, number + 1, minute, [value - 0.1, value, value + 0.1])
    per_hour = drift_of(log).segments[0].per_hour
    hours = np.array(minutes) / 60.0
    expected = 100.0 * np.polyfit(hours, values, 1)[0] / values[0]
    assert per_hour.value == pytest.approx(expected, rel=1e-6, abs=1e-6)
    # First order: d slope / d L by small changes of each reading, combined in quadrature (JCGM 100:2008, 5.1.2).
    total = 0.0
    for index in range(len(values)):
        nudged = np.array(values)
        nudged[index] += 1e-4
        total += ((100.0 * np.polyfit(hours, nudged, 1)[0] / nudged[0] - expected) / 1e-4 * 0.1) ** 2
    assert per_hour.s == pytest.approx(total**0.5, rel=1e-3)


def test_sessions_are_segments_and_changes_go_on() -> None:
    log = Log([BLOCK])
    for number in (1, 2, 3):
        read(log, number, 5.0 * number, [100.0 + number] * 3)
    log.session, log.now_ns = "s2", 0
    log.add("resumed", {})
    for number in (4, 5, 6):
        read(log, number, 1000.0 + 30.0 * number, [110.0] * 3)
    got = drift_of(log)
    assert [one.session for one in got.readings] == [1, 1, 1, 2, 2, 2]
    assert [one.minutes for one in got.readings] == [0, 5, 10, 0, 30, 60]
    first, second = got.segments
    assert first.per_hour.value == pytest.approx(100.0 * 12.0 / 101.0)
    assert second.per_hour.value == pytest.approx(0.0, abs=1e-9)
    assert got.readings[5].change.value == pytest.approx(100.0 * (110.0 / 101.0 - 1.0))


def test_readings_stand_in_the_order_they_were_made() -> None:
    log = Log([BLOCK])
    read(log, 2, 0, [100.0] * 3)
    read(log, 1, 5, [102.0] * 3)
    got = drift_of(log)
    assert [one.step for one in got.readings] == ["reference/2", "reference/1"]
    assert got.readings[1].change.value == pytest.approx(2.0)


def test_a_repeated_attempt_counts_from_when_it_was_shown_again() -> None:
    log = Log([BLOCK])
    read(log, 1, 0, [100.0] * 3)
    log.now_ns = 5 * MINUTE_NS
    log.shown("reference/2", {"number": 2})
    log.reading("reference/2", xyz(1.0))
    log.add("fault", {"error": "MeterSilent"}, "reference/2")
    log.now_ns = 9 * MINUTE_NS
    log.shown("reference/2", {"number": 2}, attempt=2)
    log.reading("reference/2", xyz(100.0), attempt=2)
    log.add("done", {"readings": 1}, "reference/2", 2)
    got = drift_of(log)
    assert got.readings[1].minutes == 9.0
    assert got.maximum_change.value == pytest.approx(0.0)


def test_a_reading_over_range_leaves_changes_unknown_and_says_why() -> None:
    log = Log([BLOCK], meter={"model": "invented", "ceiling_cd_m2": 90.0})
    read(log, 1, 0, [80.0] * 3)
    read(log, 2, 5, [95.0] * 3, status="over")
    read(log, 3, 10, [85.0] * 3)
    got = drift_of(log)
    assert got.readings[1].change.bound == "above"
    assert got.maximum_change.status == "absent"
    assert "over the meter's range" in got.maximum_change.why
    # The middle one of three equal intervals has no weight in the slope.
    assert got.segments[0].per_hour.value == pytest.approx(100.0 * 30.0 / 80.0)


def test_no_reading_is_said() -> None:
    results = analyse(Log([BLOCK]).end())
    assert results.drift[0].missing == "no reference reading was made"
    assert [(one.result, one.why) for one in results.absent] == [("reference", "no reference reading was made")]
    assert results.drift[0].maximum_change.why == "no reference reading was made"


def test_warming_up_again_is_kept_apart() -> None:
    log = Log([BLOCK], steps=3)
    for step, minutes in (("warm-up", 23.0), ("warm-up/2", 12.0)):
        log.shown(step, {})
        log.reading(step, xyz(100.0))
        log.add("done", {"readings": 1, "stable": step == "warm-up", "minutes": minutes}, step)
    read(log, 1, 0, [100.0] * 3)
    results = analyse(log.end())
    assert results.warm_up is not None
    assert (results.warm_up.minutes, results.warm_up.stable) == (23.0, True)
    assert [(one.minutes, one.stable) for one in results.later_warm_ups] == [(12.0, False)]
    assert (results.steps_done, results.readings) == (2, 4), "a planned step is done once"
