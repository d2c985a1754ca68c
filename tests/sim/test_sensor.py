"""The meter's physics: repeatability, integration, seeds."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.sensor import REFERENCE_INTEGRATION_S, Noise, NoiseMode, SensorModel

LAWS = settings(derandomize=True, deadline=None, database=None, max_examples=100)
PLACE = (0.5, 0.5)


@pytest.mark.parametrize(("level", "percent"), [(0.01, 5.386), (0.1, 0.8124), (1.0, 0.2291), (100.0, 0.1020)])
def test_repeatability_law(level: float, percent: float) -> None:
    # Worked example of u_rep^2 = s0^2 + (a sqrt L)^2 + (r L)^2 with s0 5e-4, a 2e-3, r 1e-3: the quadratic sum
    # of IEC TR 62977-1-31:2021, 5.2's repeatability as a function of luminance; figures computed by hand.
    sensor = SensorModel(dark_cd_m2=5e-4, shot=2e-3, scale=1e-3)
    u = sensor.repeatability_cd_m2(level, REFERENCE_INTEGRATION_S)
    assert 100.0 * u / level == pytest.approx(percent, abs=1e-3)


@LAWS
@given(level=st.floats(0.0, 3000.0), short=st.floats(0.01, 4.0), longer=st.floats(1.01, 50.0))
def test_noise_falls_with_the_root_of_integration(level: float, short: float, longer: float) -> None:
    sensor = SensorModel()
    ratio = sensor.repeatability_cd_m2(level, short) / sensor.repeatability_cd_m2(level, short * longer)
    assert ratio == pytest.approx(longer**0.5)


@LAWS
@given(darker=st.floats(0.0, 3000.0), step=st.floats(0.0, 100.0))
def test_the_meter_integrates_longer_in_the_dark(darker: float, step: float) -> None:
    sensor = SensorModel()
    assert 0.1 <= sensor.integration_s(darker + step) <= sensor.integration_s(darker) <= 4.0


@pytest.mark.parametrize("mode", ["per-patch", "sequence"])
def test_scatter_is_what_the_law_says(mode: NoiseMode) -> None:
    """Standard deviation of 4000 readings: its own standard error is 1.1 %, so 5 % is more than four of them."""
    sensor, noise = SensorModel(), Noise(mode, seed=3)
    for level in (0.02, 5.0, 400.0):
        readings = [sensor.disturbed((level, level, level), 0.5, noise.draw("patch", PLACE, n))[1] for n in range(4000)]
        assert statistics.stdev(readings) == pytest.approx(sensor.repeatability_cd_m2(level, 0.5), rel=0.05)
        assert statistics.fmean(readings) == pytest.approx(
            level, abs=5.0 * sensor.repeatability_cd_m2(level, 0.5) / 4000**0.5
        )


def test_channels_share_only_the_scale() -> None:
    noise, sensor = Noise("sequence", seed=5), SensorModel()
    bright = [sensor.disturbed((400.0, 400.0, 400.0), 0.2, noise.draw("", PLACE, n)) for n in range(1000)]
    dark = [sensor.disturbed((0.001, 0.001, 0.001), 0.2, noise.draw("", PLACE, n)) for n in range(1000)]
    assert statistics.correlation([x for x, _, _ in bright], [y for _, y, _ in bright]) > 0.95
    assert abs(statistics.correlation([x for x, _, _ in dark], [y for _, y, _ in dark])) < 0.15


def test_per_patch_noise_depends_on_all_that_it_should_and_on_nothing_else() -> None:
    first = Noise("per-patch", 7).draw("patch", PLACE, 2)
    later = Noise("per-patch", 7)
    for number in range(9):
        later.draw("another", PLACE, number)
    assert later.draw("patch", PLACE, 2) == first
    others = [
        Noise("per-patch", 8).draw("patch", PLACE, 2),
        later.draw("patch2", PLACE, 2),
        later.draw("patch", (0.5, 0.1), 2),
        later.draw("patch", PLACE, 3),
    ]
    assert len({first, *others}) == 5


def test_a_sequence_is_reproduced_by_its_seed_and_by_no_other() -> None:
    def readings(seed: int) -> list[tuple[float, ...]]:
        noise = Noise("sequence", seed)
        return [noise.draw("patch", PLACE, 0) for _ in range(5)]

    assert readings(7) == readings(7)
    assert readings(7) != readings(8)
    assert len(set(readings(7))) == 5


def test_no_noise() -> None:
    gauss = Noise("none", 1).draw("patch", PLACE, 0)
    assert SensorModel().disturbed((1.0, 2.0, 3.0), 0.1, gauss) == (1.0, 2.0, 3.0)
