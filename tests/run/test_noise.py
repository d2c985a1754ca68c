"""The noise model: the handbook's form fitted to variances that know their degrees of freedom."""

from __future__ import annotations

import math
from random import Random

import pytest

from benchd.run.adaptive.learned import MIN_DOF, Noise, NoiseModel, NoiseSample, fitted

# s0, a, r of the worked example: L .01 -> 5.386 %, .1 -> .8124 %, 1 -> .2291 %, 100 -> .1020 % (computed from the
# form u^2 = s0^2 + a^2 L + (r L)^2; the form as in IEC TR 62977-1-31:2021, 5.2, from memory).
EXAMPLE = {0.01: 5.386, 0.1: 0.8124, 1.0: 0.2291, 100.0: 0.1020}
STATED = NoiseModel.stated(5e-4, 2e-3, 1e-3, 0.2)
LEVELS = (0.01, 0.1, 1.0, 10.0, 100.0, 300.0)


@pytest.mark.parametrize("luminance", EXAMPLE)
def test_the_worked_example(luminance: float) -> None:
    percent = 100.0 * math.sqrt(STATED.per_second(luminance) / 0.2) / luminance
    assert percent == pytest.approx(EXAMPLE[luminance], abs=1e-3)


def test_exact_variances_give_the_model_back() -> None:
    model = fitted([NoiseSample(level, STATED.per_second(level), 9.0) for level in LEVELS])
    assert model is not None
    for level in LEVELS:
        assert model.per_second(level) == pytest.approx(STATED.per_second(level), rel=1e-6)


def test_no_part_is_ever_negative() -> None:
    random = Random(3)
    for _ in range(50):
        model = fitted([NoiseSample(level, random.expovariate(1.0 / level), 4.0) for level in LEVELS[:4]])
        assert model is not None
        assert min(model) >= 0.0


def test_sample_variances_give_the_model_within_their_scatter() -> None:
    """Ten readings at each of six levels, twenty times over: on average right, so that neither time nor precision
    is lost for ever."""
    random = Random(11)
    ratios: list[float] = []
    for _ in range(60):
        noise = Noise()
        for level in LEVELS:
            for _ in range(4):
                dof = 9
                square = sum(random.gauss(0, 1) ** 2 for _ in range(dof)) / dof
                noise.take(NoiseSample(level, STATED.per_second(level) * square, dof))
        ratios += [(noise.per_second(level) or 0.0) / STATED.per_second(level) for level in LEVELS]
    assert sum(ratios) / len(ratios) == pytest.approx(1.0, abs=0.03)
    assert min(ratios) > 0.5
    assert max(ratios) < 1.8


def test_nothing_is_said_of_luminances_that_were_not_seen() -> None:
    noise = Noise()
    for _ in range(10):
        noise.take(NoiseSample(100.0, 1e-4, 9.0))
    assert noise.dof_at(100.0) == 90.0 >= MIN_DOF
    assert noise.per_second(100.0) is not None
    assert noise.per_second(0.3) is None


def test_a_variance_of_nothing_teaches_nothing() -> None:
    noise = Noise()
    noise.take(NoiseSample(100.0, 0.0, 50.0))
    assert noise.per_second(100.0) is None


def test_what_a_bench_states_is_known_at_once() -> None:
    noise = Noise(STATED, 50.0)
    for level in LEVELS:
        assert noise.per_second(level) == pytest.approx(STATED.per_second(level), rel=1e-6)
