"""The readings at the end of a warm-up: how many, what they say of each other, and what a kill among them costs."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest

from benchd.autocorrelation import FEWEST, autocorrelation
from benchd.clock import StopRequest
from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.log.records import CONSECUTIVE
from benchd.run.procedures.consecutive import MAX_READINGS
from benchd.run.rig import Event
from tests.run.rig import ScriptedRig, run, step

WARM = replace(step("warm-up", 128), id="warm-up", block="", procedure="warm_up", readings=1)
SHORT = WarmUpLimits(1, 1, False)


def process(rho: float, count: int, dice: np.random.Generator) -> list[float]:
    """A first-order autoregressive process about 100, of standard deviation 1."""
    values = [float(dice.normal())]
    for _ in range(count - 1):
        values.append(rho * values[-1] + math.sqrt(1.0 - rho * rho) * float(dice.normal()))
    return [100.0 + value for value in values]


@pytest.mark.parametrize("rho", [0.0, 0.5, 0.8])
def test_correlation_of_the_first_lags_is_right_on_the_average(rho: float) -> None:
    """The true one of the process is rho^k; uncorrected, sixty readings say 0.03 to 0.14 less (Kendall 1954)."""
    dice = np.random.default_rng(11)
    found = [autocorrelation(process(rho, FEWEST, dice), 0.2) for _ in range(300)]
    first = [one.lags[0] for one in found if one is not None]
    assert len(first) == 300
    assert fmean(lag.r for lag in first) == pytest.approx(rho, abs=0.03)
    assert all(lag.lag_s == 0.2 for lag in first)
    spread = float(np.std([lag.r for lag in first]))
    assert fmean(lag.u for lag in first) == pytest.approx(spread, rel=0.3)


def test_what_lies_beyond_chance_is_kept_by_lag() -> None:
    found = autocorrelation(process(0.9, 300, np.random.default_rng(2)), 0.25)
    assert found is not None
    assert [lag.lag_s for lag in found.lags[:3]] == [0.25, 0.5, 0.75]
    for k, lag in enumerate(found.lags[:5], 1):
        assert abs(lag.r - 0.9**k) <= 3.0 * lag.u
    assert found.memory == pytest.approx(1.9 / 0.1, rel=0.5)


def test_too_few_readings_or_equal_ones_say_nothing() -> None:
    dice = np.random.default_rng(3)
    assert autocorrelation(process(0.0, FEWEST - 1, dice), 0.2) is None
    assert autocorrelation([100.0] * FEWEST, 0.2) is None
    assert autocorrelation(process(0.0, FEWEST, dice), 0.0) is None


def rig_of(rho: float) -> ScriptedRig:
    rig = ScriptedRig()
    values = iter(process(rho, 1000, np.random.default_rng(5)))
    rig.meter.luminance = lambda request: next(values)
    return rig


def readings(log: Path, steps: list[Step], rig: ScriptedRig) -> tuple[int, object]:
    outcome, records = run(log, steps, rig, warm_up=SHORT)
    assert outcome.complete
    count = sum(record.kind == "reading" and record.step == CONSECUTIVE for record in records)
    (done,) = [record for record in records if record.kind == "done" and record.step == CONSECUTIVE]
    assert done.body["readings"] == count
    return count, done.body["serial"]


def test_a_warm_up_ends_with_sixty_readings_more_where_noise_lasts(tmp_path: Path) -> None:
    steps = [WARM, step("a")]
    count, _ = readings(tmp_path / "white.log", steps, rig_of(0.0))
    assert count == FEWEST
    count, _ = readings(tmp_path / "lasting.log", steps, rig_of(0.9))
    assert FEWEST < count <= MAX_READINGS


def test_without_a_warm_up_there_are_none(tmp_path: Path) -> None:
    _, records = run(tmp_path / "a.log", [step("a")], rig_of(0.0))
    assert not any(record.step == CONSECUTIVE for record in records)


def test_a_stop_among_them_costs_no_second_warm_up(tmp_path: Path) -> None:
    log, stop = tmp_path / "a.log", StopRequest()

    def watch(event: Event) -> None:
        if event.step.id == CONSECUTIVE and event.reading is not None:
            stop.set("a test")

    outcome, first = run(log, [WARM, step("a")], rig_of(0.0), warm_up=SHORT, stop=stop, watch=watch)
    assert not outcome.complete
    outcome, records = run(log, [WARM, step("a")], rig_of(0.0), warm_up=SHORT)
    assert outcome.complete
    done = [record.step for record in records if record.kind == "done"]
    assert done == ["warm-up", CONSECUTIVE, "a"]
    of_warm_up = [
        [one for one in several if one.kind == "reading" and one.step == "warm-up"] for several in (first, records)
    ]
    assert of_warm_up[0] == of_warm_up[1]
