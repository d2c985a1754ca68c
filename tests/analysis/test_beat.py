"""Beat errors: bounds against the check values of the method, and against a direct integration of the signals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.log_data import collect
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.analysis.meter_model.beat import Flicker, pulse_extremes, relative_beats, sine_bound, with_beat
from tests.analysis.logs import Log, xyz


@pytest.mark.parametrize(
    ("rate_hz", "integration_s", "bound"),
    [(60.0, 0.1, 0.0), (59.94, 0.1, 0.00100094), (60.0, 0.105, 0.040876)],
)
def test_a_sine_averages_out_over_whole_periods(rate_hz: float, integration_s: float, bound: float) -> None:
    """|sinc(f t)|: the mean of a sine over a window (calculus); figures computed independently of this code."""
    assert sine_bound(1.0, rate_hz, integration_s) == pytest.approx(bound, abs=5e-7)
    assert sine_bound(0.05, rate_hz, integration_s) == pytest.approx(0.05 * bound, abs=5e-7)


def test_pulses_of_a_quarter_at_120_hz() -> None:
    low, high = pulse_extremes(0.25, 120.0, 0.1043)
    assert low == pytest.approx(-0.041, abs=5e-4)
    assert high == pytest.approx(0.039, abs=5e-4)
    assert pulse_extremes(0.25, 120.0, 0.1) == pytest.approx((0.0, 0.0), abs=1e-12)


@settings(derandomize=True, deadline=None)
@given(
    duty=st.floats(0.02, 1.0),
    rate_hz=st.floats(50.0, 500.0),
    integration_s=st.floats(0.02, 1.0),
    phase=st.floats(0.0, 1.0),
)
def test_no_phase_of_a_pulse_train_is_beyond_its_extremes(
    duty: float, rate_hz: float, integration_s: float, phase: float
) -> None:
    periods = rate_hz * integration_s

    def on_until(when: float) -> float:
        return math.floor(when) * duty + min(when - math.floor(when), duty)

    error = (on_until(phase + periods) - on_until(phase)) / (periods * duty) - 1.0
    low, high = pulse_extremes(duty, rate_hz, integration_s)
    assert low - 1e-9 <= error <= high + 1e-9
    bound = (1.0 - duty) / periods
    assert -bound - 1e-9 <= low <= 1e-9
    assert -1e-9 <= high <= bound + 1e-9


@settings(derandomize=True, deadline=None)
@given(rate_hz=st.floats(24.0, 240.0), integration_s=st.floats(0.02, 1.0), phase=st.floats(0.0, 1.0))
def test_no_phase_of_a_sine_is_beyond_its_bound(rate_hz: float, integration_s: float, phase: float) -> None:
    """Against a sum over 4096 moments of the window."""
    moments = (np.arange(4096) + 0.5) / 4096 * integration_s
    mean = float(np.mean(np.sin(2.0 * np.pi * (rate_hz * moments + phase))))
    assert abs(mean) <= sine_bound(1.0, rate_hz, integration_s) + 1e-3


def test_a_display_of_which_nothing_is_known_has_no_beat() -> None:
    assert relative_beats(Flicker(), 0.1) == ()
    assert relative_beats(Flicker(refresh_hz=60.0), 0.1) == ()


def test_a_synchronised_reading_has_next_to_none() -> None:
    flicker = Flicker(60.0, 0.05, 240.0, 0.2)
    whole = dict(relative_beats(flicker, 0.2))
    other = dict(relative_beats(flicker, 0.205))
    assert whole["refresh beat"] < 1e-5
    assert whole["dimming beat"] < 6e-4
    assert other["refresh beat"] > 50 * whole["refresh beat"]
    assert other["dimming beat"] > 10 * whole["dimming beat"]


def figures(flicker: dict[str, object], integration_s: float) -> tuple[float, dict[str, float]]:
    log = Log([{"name": "luminance", "kind": "luminance"}], flicker=flicker)
    log.shown("luminance/white", {"level": "white"})
    for value in (199.9, 200.0, 200.1):
        body = {"n": 1, "xyz": xyz(value), "status": "ok", "integration_s": integration_s}
        log.add("reading", body, "luminance/white")
    log.add("done", {"readings": 3}, "luminance/white")
    records = log.end()
    log_data = with_beat(collect(records), records[0].body)
    light = luminance_of(log_data.measured["luminance/white"], MeterRange())
    assert light.value == pytest.approx(200.0)
    assert light.sources is not None
    parts = light.sources.contributions() or {}
    return light.u or 0.0, {source.name: amount for source, amount in parts.items()}


def test_the_beat_is_in_the_uncertainty_of_a_result_under_its_name() -> None:
    flicker = {"refresh_hz": 60.0, "refresh_depth": 0.05, "dimming_hz": None, "dimming_duty": None}
    quiet_u, quiet = figures({}, 0.105)
    u, parts = figures(flicker, 0.105)
    assert not any("beat" in name for name in quiet)
    # 200 cd/m2 x 0.05 x 0.040876 is the end of the error, a U-shaped one (JCGM 101, 6.4.6): over the root of two.
    own = parts["refresh beat of luminance/white"]
    assert own == pytest.approx(200.0 * 0.05 * 0.040876 / math.sqrt(2.0), rel=3e-3)
    assert u == pytest.approx(math.hypot(quiet_u, own))
