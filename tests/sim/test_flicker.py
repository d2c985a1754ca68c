"""Simulated light that swings by itself: its mean over a window, against a sum over many moments."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.flicker import Flicker


@settings(derandomize=True, deadline=None)
@given(start_s=st.floats(0.0, 100.0), duration_s=st.floats(0.05, 0.5), duty=st.floats(0.1, 0.9))
def test_a_window_has_the_mean_of_its_moments(start_s: float, duration_s: float, duty: float) -> None:
    moments = start_s + (np.arange(20000) + 0.5) / 20000 * duration_s
    sine = Flicker(refresh_hz=60.0, refresh_depth=0.3)
    expected = float(np.mean(1.0 + 0.3 * np.sin(2.0 * math.pi * 60.0 * moments)))
    assert sine.mean(start_s, duration_s) == pytest.approx(expected, abs=1e-4)
    pulses = Flicker(dimming_hz=90.0, dimming_duty=duty)
    on = float(np.mean((moments * 90.0) % 1.0 < duty)) / duty
    assert pulses.mean(start_s, duration_s) == pytest.approx(on, abs=2e-3 / duty)


def test_whole_periods_have_the_mean_of_all_time() -> None:
    flicker = Flicker(60.0, 0.3, 240.0, 0.2)
    assert flicker.mean(0.1234, 0.2) == pytest.approx(1.0, abs=1e-9)


def test_steady_light_is_steady() -> None:
    assert Flicker().mean(1.0, 0.123) == 1.0
