"""Worlds whose noise hangs together, and whose light walks or steps."""

from __future__ import annotations

import math
import statistics

import pytest

from sim.bench_arguments import arguments_of
from sim.light_drift import LightDrift, step_of
from sim.sensor import Noise

PLACE = (0.5, 0.5)


def test_correlated_noise_is_forgotten_exponentially_and_has_the_same_size() -> None:
    """An autoregressive process of first order: correlation rho^k at lag k, variance 1 (Box and Jenkins)."""
    rho, every_s = 0.9, 0.1
    noise = Noise("sequence", 3, correlation_s=-every_s / math.log(rho))
    seen = [noise.draw("", PLACE, 0, every_s * n)[0] for n in range(40000)]
    assert statistics.pstdev(seen) == pytest.approx(1.0, abs=0.05)
    for lag in (1, 3, 8):
        assert statistics.correlation(seen[:-lag], seen[lag:]) == pytest.approx(rho**lag, abs=0.03)


def test_without_correlation_nothing_has_changed() -> None:
    plain, timed = Noise("sequence", 3), Noise("sequence", 3, correlation_s=0.0)
    assert [plain.draw("", PLACE, n) for n in range(5)] == [timed.draw("", PLACE, n, 0.1 * n) for n in range(5)]


def test_correlated_noise_needs_a_sequence() -> None:
    with pytest.raises(SystemExit):
        arguments_of(["--display", "office-lcd", "--dialect", "x", "--folder", "y", "--noise-correlation-s", "1"])


def test_a_walk_spreads_with_the_root_of_time_and_is_a_function_of_time() -> None:
    ends = {hours: [LightDrift(1.0, seed=seed).factor(3600.0 * hours) for seed in range(400)] for hours in (0.25, 1.0)}
    for hours, found in ends.items():
        assert statistics.fmean(found) == pytest.approx(1.0, abs=0.002)
        assert statistics.pstdev(found) == pytest.approx(0.01 * math.sqrt(hours), rel=0.15)
    walk, other = LightDrift(1.0, seed=5), LightDrift(1.0, seed=5)
    assert [walk.factor(t) for t in (100.0, 10.5)] == [other.factor(t) for t in (10.5, 100.0)][::-1]


def test_a_step_stays() -> None:
    light = LightDrift(steps=(step_of("600:1.5"), step_of("900:-1")))
    assert light.factor(599.9) == 1.0
    assert light.factor(600.0) == pytest.approx(1.015)
    assert light.factor(5000.0) == pytest.approx(1.015 * 0.99)
