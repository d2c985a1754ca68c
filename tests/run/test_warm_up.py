"""The warm-up judges what is still to come: its trend, with uncertainty, and what swings between its readings."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from random import Random
from statistics import fmean
from typing import Any

import pytest

from benchd.plan.plan import WarmUpLimits
from benchd.plan.step import Step
from benchd.run.procedures.warm_up import ahead_min
from benchd.run.procedures.warm_up_stability import AT_S, PAIRS, Trend, is_stable, swing_of, trend_of
from tests.run.rig import ScriptedRig, run, step

LIMITS = WarmUpLimits(20, 60, until_stable=True)
NOISE = 5e-4
"""Relative standard deviation of a reading of 0.2 s of a mid grey, as of a fine meter."""

Light = Callable[[float], float]
"""Relative luminance at a minute."""


def approach(share: float, tau_min: float) -> Light:
    return lambda minute: 1.0 - share * math.exp(-minute / tau_min)


def warmed(log: Path, light: Light, limits: WarmUpLimits = LIMITS, noise: float = NOISE, **more: Any) -> dict[str, Any]:
    """What ``done`` says of a warm-up over that light, and the light that was still to come in ``left``."""
    rig, random = ScriptedRig(), Random(3)
    rig.meter.luminance = lambda request: (
        300.0 * light(rig.clock.now_s() / 60.0) * (1.0 + noise * random.gauss(0.0, 1.0))
    )
    first = step("warm-up", 128)
    warm = Step("warm-up", "", "warm_up", first.patch, {}, readings=0)
    _, records = run(log, [warm], rig, warm_up=limits, **more)
    body = next(record.body for record in records if record.kind == "done")
    now = rig.clock.now_s() / 60.0
    return {**body, "left": light(1e4) / light(now) - 1.0, "records": records}


def test_a_warm_up_ends_when_little_is_to_come(tmp_path: Path) -> None:
    body = warmed(tmp_path / "a.log", approach(0.05, 6.0), ahead_min=15.0)
    assert body["stable"] is True
    assert body["not_stable_because"] == []
    assert 20 <= body["minutes"] < 40
    assert abs(body["left"]) <= 0.005
    readings = [
        record.body["xyz"][1] for record in body["records"] if (record.kind, record.step) == ("reading", "warm-up")
    ]
    assert body["readings"] == len(readings)
    trend = body["trend"]
    assert abs(trend["change"] - body["left"]) <= 1.5 * trend["k"] * trend["u_change"] + 1e-4
    assert abs(trend["change"]) + trend["k"] * trend["u_change"] <= 0.005


@pytest.mark.parametrize("ahead", [10.0, 60.0])
def test_what_would_pass_the_band_with_a_per_cent_to_come_does_not(tmp_path: Path, ahead: float) -> None:
    """5 % with 30 min: after 57 min the band of common practice is kept, with 0.75 % to come."""
    light = approach(0.05, 30.0)
    assert is_stable([light(minute) for minute in range(47, 58)])
    assert 1.0 - light(57) >= 0.0074
    body = warmed(tmp_path / "a.log", light, ahead_min=ahead)
    assert body["stable"] is False
    assert body["minutes"] == 60.0
    assert body["not_stable_because"] == ["to come"]
    assert not body["trend"]["steady"]
    assert body["trend"]["in_hour"] == pytest.approx(light(120.0) / light(60.0) - 1.0, abs=0.004)


def test_a_steady_trend_is_named(tmp_path: Path) -> None:
    """3 % an hour never ends by itself."""
    body = warmed(tmp_path / "a.log", lambda minute: 1.0 - 0.03 * minute / 60.0)
    assert body["stable"] is False
    assert "steady trend" in body["not_stable_because"]
    trend = body["trend"]
    assert trend["steady"]
    assert abs(trend["per_hour"] + 0.03) <= 1.5 * trend["k"] * trend["u_per_hour"] + 5e-4


@pytest.mark.parametrize("period_s", [60.0, 30.0, 20.0, 12.0, 5.0, 3.0])
def test_a_swing_that_one_reading_a_minute_misses_is_seen(tmp_path: Path, period_s: float) -> None:
    """Its period fits a minute, so each minute's reading sees the same light; 2 % from lowest to highest."""
    body = warmed(
        tmp_path / "a.log",
        lambda minute: 1.0 + 0.01 * math.sin(2.0 * math.pi * 60.0 * minute / period_s),
        WarmUpLimits(20, 24, until_stable=True),
    )
    assert body["stable"] is False
    assert set(body["not_stable_because"]) & {"swings", "band", "to come"}
    if "band" not in body["not_stable_because"]:
        assert body["swing"]["peak_to_peak"] == pytest.approx(0.02, rel=0.6)


def test_a_noisy_meter_is_no_swing(tmp_path: Path) -> None:
    body = warmed(tmp_path / "a.log", lambda minute: 1.0, noise=2e-3, ahead_min=10.0)
    assert body["stable"] is True
    assert not body["swing"]["seen"]


def test_a_light_that_jumps_from_minute_to_minute_never_passes(tmp_path: Path) -> None:
    body = warmed(tmp_path / "a.log", lambda minute: 1.0 + 0.017 * (int(minute) % 2), WarmUpLimits(5, 20, True))
    assert not body["stable"]
    assert "band" in body["not_stable_because"]
    assert body["minutes"] == 20.0


def test_a_short_warm_up_knows_nothing(tmp_path: Path) -> None:
    body = warmed(tmp_path / "a.log", lambda minute: 1.0, WarmUpLimits(5, 5, False))
    assert body["not_stable_because"] == ["too few readings"]
    assert "trend" not in body
    assert body["minutes"] == 5.0


LIGHTS: dict[str, Light] = {
    "level": lambda minute: 1.0,
    "5 % with 10 min": approach(0.05, 10.0),
    "5 % with 30 min": approach(0.05, 30.0),
    "2 % with 60 min": approach(0.02, 60.0),
    "two parts": lambda minute: 1.0 - 0.05 * math.exp(-minute / 4.0) - 0.02 * math.exp(-minute / 25.0),
    "3 % an hour": lambda minute: 1.0 - 0.03 * minute / 60.0,
    "1 % an hour": lambda minute: 1.0 + 0.01 * minute / 60.0,
}


def held(trend: Trend, true: float) -> bool:
    return abs(trend.change - true) <= trend.k * trend.u_change


def test_what_is_said_to_come_comes() -> None:
    """Intervals of 95 % over drawn noise, at 20, 35 and 60 minutes, 15 and 60 minutes ahead."""
    random, found = Random(11), []
    for light in LIGHTS.values():
        for _ in range(12):
            noise = math.exp(random.uniform(math.log(2e-4), math.log(1.5e-3)))
            readings = [light(minute) * (1.0 + noise * random.gauss(0.0, 1.0)) for minute in range(61)]
            for now in (20, 35, 60):
                for ahead in (15.0, 60.0):
                    trend = trend_of(readings[: now + 1], ahead)
                    assert trend is not None
                    found.append(held(trend, (light(now + ahead) - light(now)) / light(now)))
    assert fmean(found) >= 0.91


def test_an_exact_approach_is_found() -> None:
    light = approach(0.05, 12.2)
    trend = trend_of([300.0 * light(minute) for minute in range(31)], 60.0)
    assert trend is not None
    assert trend.change == pytest.approx(0.05 * math.exp(-30.0 / 12.2), rel=0.05)
    assert not trend.steady


def test_students_factor() -> None:
    """Against the printed table: t(.975) of 8 and 28 degrees of freedom, 2.306 and 2.048."""
    for dof, printed in ((8.0, 2.306), (28.0, 2.048)):
        assert Trend(60.0, 0, 0, 0, 0, 0, 0, 0, dof).k == pytest.approx(printed, abs=0.003)


def test_noise_alone_is_hardly_ever_a_swing() -> None:
    random = Random(5)
    seen = 0
    for _ in range(4000):
        found = swing_of([(1.0 + 0.01 * random.gauss(0, 1), 1.0 + 0.01 * random.gauss(0, 1)) for _ in range(PAIRS)])
        assert found is not None
        seen += found.seen
    assert seen <= 16, "one in a thousand"


def test_the_size_of_a_swing() -> None:
    random, sizes = Random(6), []
    for _ in range(200):
        period_s, phase = random.uniform(4.0, 30.0), random.uniform(0.0, 6.28)

        def light(at_s: float, period_s: float = period_s, phase: float = phase) -> float:
            return 100.0 * (1.0 + 0.01 * math.sin(2.0 * math.pi * at_s / period_s + phase))

        found = swing_of([(light(at_s), light(at_s)) for at_s in AT_S])
        assert found is not None
        sizes.append(found.peak_to_peak)
    assert fmean(sizes) == pytest.approx(0.02, rel=0.1)


def test_how_far_ahead_is_judged() -> None:
    assert ahead_min(60.0) == 10.0
    assert ahead_min(1800.0) == 30.0
    assert ahead_min(30_000.0) == 60.0
