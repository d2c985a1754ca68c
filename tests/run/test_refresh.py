"""Readings of whole frames: the times, the meter that is asked for them, and the errors that vanish by it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.meter_model.beat import pulse_extremes, sine_bound
from benchd.clock import Deadline
from benchd.instruments.meter import ReadRequest
from benchd.instruments.virtual_meters import SynchronisedMeter, longest_within, synchronised
from benchd.patch.model import field, grey
from benchd.patch.screen import ScreenIdentity
from benchd.plan.bench_fit import fit
from benchd.profile.display import Flicker as Stated
from benchd.profile.profile_store import load_bench
from benchd.run.bench.log_head import flicker_head
from sim.displays import OFFICE_LCD, Display
from sim.flicker import Flicker
from sim.inprocess import SimMeter, SimScreen
from sim.scene import Scene
from sim.sensor import SensorModel
from tests.plan.helpers import plan_from

LONG = Deadline.after(60.0)


@settings(derandomize=True, deadline=None)
@given(integration_s=st.floats(0.001, 30.0), refresh_hz=st.floats(20.0, 500.0))
def test_a_synchronised_time_is_the_next_even_number_of_frames(integration_s: float, refresh_hz: float) -> None:
    time_s = synchronised(integration_s, refresh_hz)
    pairs = time_s * refresh_hz / 2.0
    assert pairs == pytest.approx(round(pairs), abs=1e-6)
    assert time_s >= max(integration_s, 0.2) * (1.0 - 1e-5)
    assert time_s < max(integration_s, 0.2) + 2.0 / refresh_hz + 1e-9
    assert synchronised(time_s, refresh_hz) == pytest.approx(time_s), "done twice it is what it was"


def test_times_that_are_whole_frames_stay() -> None:
    assert synchronised(0.2, 60.0) == pytest.approx(0.2)
    assert synchronised(1.0, 60.0) == pytest.approx(1.0)
    assert synchronised(1.0, 59.94) == pytest.approx(60 / 59.94)
    assert synchronised(0.05, 144.0) == pytest.approx(30 / 144.0)
    assert longest_within(1.0, 59.94) == pytest.approx(58 / 59.94)
    assert longest_within(0.1, 60.0) == pytest.approx(0.2)


@pytest.mark.parametrize(("integration_s", "refresh_hz"), [(0.0, 60.0), (1.0, 0.0), (float("nan"), 60.0)])
def test_no_time_and_no_rate_are_refused(integration_s: float, refresh_hz: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        synchronised(integration_s, refresh_hz)


def bench_of(flicker: Flicker) -> tuple[Scene, SimMeter]:
    """A scene without noise that shows white, settled."""
    scene = Scene(Display(OFFICE_LCD), SensorModel(), noise="none", flicker=flicker)
    SimScreen(scene).show(field(grey(255)), LONG)
    scene.advance(10.0)
    return scene, SimMeter(scene)


def errors(scene: Scene, meter: SimMeter | SynchronisedMeter, integration_s: float) -> list[float]:
    """Relative errors of readings at 200 phases."""
    steady = Scene(Display(OFFICE_LCD), SensorModel(), noise="none")
    true = steady.truth(scene.picture)[1]
    found = []
    for _ in range(200):
        reading = meter.read(ReadRequest("s", 1, integration_s), LONG)
        assert reading.xyz is not None
        found.append(reading.xyz[1] / true - 1.0)
        scene.advance(0.01371093)
    return found


DIGITS = 1e-5 * 2
"""The meter's answers have five digits."""


def test_readings_of_any_length_stay_within_the_bound_and_reach_it() -> None:
    flicker = Flicker(refresh_hz=59.94, refresh_depth=0.08)
    scene, meter = bench_of(flicker)
    for integration_s in (0.1, 0.105, 0.25, 0.333):
        bound = sine_bound(0.08, 59.94, integration_s)
        worst = max(abs(error) for error in errors(scene, meter, integration_s))
        assert worst <= bound + DIGITS
        assert worst >= 0.9 * bound - DIGITS


def test_pulses_of_any_duty_stay_within_their_extremes() -> None:
    for duty in (0.1, 0.25, 0.6):
        scene, meter = bench_of(Flicker(dimming_hz=120.0, dimming_duty=duty))
        found = errors(scene, meter, 0.1043)
        low, high = pulse_extremes(duty, 120.0, 0.1043)
        assert low - DIGITS <= min(found) <= 0.9 * low
        assert 0.9 * high <= max(found) <= high + DIGITS


def test_synchronised_readings_have_no_beat() -> None:
    scene, meter = bench_of(Flicker(59.94, 0.08, 4 * 59.94, 0.2))
    whole = SynchronisedMeter(meter, 59.94, None)
    for integration_s in (0.105, 0.25, 1.0):
        assert max(abs(error) for error in errors(scene, meter, integration_s)) > 100 * DIGITS
        assert max(abs(error) for error in errors(scene, whole, integration_s)) <= DIGITS


def test_a_meter_is_never_asked_for_more_than_it_can() -> None:
    scene, meter = bench_of(Flicker())
    whole = SynchronisedMeter(meter, 59.94, 4.0)
    assert whole.read(ReadRequest("s", 1, 4.0), LONG).integration_s == pytest.approx(238 / 59.94)
    assert whole.read(ReadRequest("s", 1, None), LONG).integration_s == pytest.approx(scene.choose_integration_s())


SCREEN = ScreenIdentity("test-1", 1920, 1080, 0, 0, 8, "none", "test", "test", True)


def test_what_the_bench_states_outweighs_the_mode() -> None:
    stated = Stated(refresh_hz=59.94, refresh_depth=0.05)
    assert flicker_head(stated, 60.0, follow=True) == {
        "refresh_hz": 59.94,
        "refresh_from": "bench",
        "refresh_depth": 0.05,
        "dimming_hz": None,
        "dimming_duty": None,
        "synchronised": True,
    }
    assert flicker_head(None, 60.0, follow=True)["refresh_from"] == "screen mode"
    assert flicker_head(None, 60.0, follow=False)["synchronised"] is False
    assert flicker_head(None, 0.0, follow=True)["synchronised"] is False


def test_a_plan_that_insists_is_refused_where_the_rate_is_not_known() -> None:
    plan = plan_from("plan: p\nsync: refresh\nblocks: [{luminance: {}}]\n")
    bench = load_bench(
        "bench: b\nscreen: {monitor: primary}\ninstruments: {meter: {command: [x]}}\n",
        "b.yaml",
    )
    (refusal,) = fit(plan, bench, SCREEN).refusals
    assert "does not report its refresh rate; state it in bench b" in refusal
    assert fit(plan, bench, replace(SCREEN, refresh_hz=75.0)) == ((), (), ())
    (unknown,) = fit(plan, bench, None).unknown
    assert "the refresh rate of bench b's screen is not known before it is opened" in unknown
