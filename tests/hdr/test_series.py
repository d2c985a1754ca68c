"""Readings over time: when they are taken, what a pause does, and what figures come of them."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.step_data import SeriesReading
from benchd.analysis.log.timeline import around, best_second, first_below
from benchd.analysis.noise.series_noise import series_noise
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.clock import StopRequest, VirtualClock
from benchd.instruments.meter import Reading, Status
from benchd.plan.step import Series
from benchd.run.procedures.series import read_series
from tests.hdr.chain import job_of, results, session

PLAN = "plan: p\nsignal: {transfer: pq}\nwarm_up: none\nblocks: [peak: {areas_percent: [10, 100]}]\n"


def readings_with(takes_s: float, series: Series) -> list[float]:
    """When each reading of a meter that takes ``takes_s`` begins."""
    clock, began = VirtualClock(), []

    def read(number: int, began_s: float) -> Reading:
        after_s = round(clock.now_s() - began_s, 6)
        began.append(after_s)
        clock.sleep(takes_s, StopRequest())
        return Reading((1.0, 1.0, 1.0), Status.OK, takes_s, "", 0.0, after_s)

    count = read_series(series, clock, read, lambda seconds: clock.sleep(seconds, StopRequest()))
    assert count == len(began)
    return began


@given(st.floats(0.001, 5.0), st.floats(10.0, 120.0))
@settings(max_examples=40, deadline=None)
def test_it_begins_at_once_and_ends_in_time(takes_s: float, for_s: float) -> None:
    began = readings_with(takes_s, Series(10.0, 0, for_s, 12.0, 0.1, 2.0))
    assert began[0] == 0.0
    assert for_s <= began[-1] <= for_s + takes_s + 1e-3
    assert all(later > earlier for earlier, later in pairwise(began))
    sparse = [b - a for a, b in pairwise(began) if a > 13.0 and b < for_s - 0.01]
    assert all(gap == pytest.approx(max(2.0, takes_s), abs=0.01) for gap in sparse)


def test_a_pause_in_a_series_measures_the_whole_of_it_again(tmp_path: Path) -> None:
    job, whole, broken = job_of(PLAN), tmp_path / "whole.log", tmp_path / "broken.log"
    assert session(job, "hdr-lcd", whole)
    assert not session(job, "hdr-lcd", broken, stop_at=20)
    assert session(job, "hdr-lcd", broken)
    first, second = results(whole)["blocks"]["peak"], results(broken)["blocks"]["peak"]
    for size, window in first["windows"].items():
        for name, moment in window["moments"].items():
            again = second["windows"][size]["moments"][name]
            assert again["luminance"]["value"] == pytest.approx(moment["luminance"]["value"], rel=0.01)


def made(level_at: dict[float, float], takes_s: float = 0.2) -> list[SeriesReading]:
    return [
        SeriesReading(after_s, takes_s, (level, level, level), "ok", index)
        for index, (after_s, level) in enumerate(level_at.items(), start=10)
    ]


def test_the_best_second_of_a_light_that_falls() -> None:
    light = made({0.2 * k: 1000.0 - 10.0 * k for k in range(50)})
    assert [one.seq for one in best_second(light)] == [10, 11, 12, 13, 14]


def test_a_short_burst_at_the_end_is_no_second() -> None:
    light = made({0.2 * k: 100.0 for k in range(50)} | {9.99: 200.0}, takes_s=0.2)
    assert len(best_second(light)) >= 4


def test_a_slow_meter_has_seconds_of_one_reading() -> None:
    light = made({0.0: 100.0, 2.0: 120.0, 4.0: 90.0}, takes_s=2.0)
    assert [one.seq for one in best_second(light)] == [11]


def test_the_light_at_a_moment_or_none() -> None:
    light = made({0.0: 1.0, 1.0: 2.0, 10.0: 3.0, 60.0: 4.0})
    assert [one.xyz for one in around(light, 1.0)] == [(2.0, 2.0, 2.0)]
    assert [one.xyz for one in around(light, 60.0)] == [(4.0, 4.0, 4.0)]
    assert around(light, 30.0) == ()


def test_the_first_time_below_a_share_is_not_one_reading_of_noise() -> None:
    best = Quantity(100.0, "cd/m2", 3, 0.1)
    light = made({0.0: 100.0, 1.0: 94.0, 2.0: 99.0, 3.0: 94.0, 4.0: 93.0})
    assert first_below(light, best, 0.95).value == pytest.approx(3.1)
    assert "stayed above 90 %" in first_below(light, best, 0.9).why


def test_the_noise_of_a_series_is_that_of_its_readings_whatever_the_light_does() -> None:
    """Variance and degrees of freedom of 300 drawn series, of lights that stay, fall slowly and fall in a second."""
    dice = np.random.default_rng(3)
    times = np.arange(50) * 0.2
    for tau_s in (0.25, 1.0, 3.0, 1e9):
        light = 300.0 + 700.0 * np.exp(-times / tau_s)
        found = []
        for _ in range(300):
            values = light * (1.0 + 0.001 * dice.standard_normal(50))
            made_of = series_noise(times.tolist(), [(one, one, one) for one in values.tolist()])
            assert made_of is not None
            found.append((made_of.relative[1] / 1e-6, made_of.dof))
        share, dof = np.array(found).T
        assert 0.9 < share.mean() < 1.35, tau_s
        assert dof.mean() < 1.3 * 2.0 * share.mean() ** 2 / share.var(), tau_s
