"""Uncertainty of colour differences of HDR whose aim was measured too: against the formula, moved by hand."""

from __future__ import annotations

import numpy as np
import pytest

from benchd.analysis.colour import itp
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.uncertainty.itp_difference import delta_e_itp_cloud, grey_xyz
from benchd.analysis.uncertainty.sources import Fixed, OfLight, Source

NOISE = Source("noise of the peak")


def light(name: str, xyz: tuple[float, float, float], u: float = 0.001) -> StepData:
    """A step whose X, Y, Z scatter by the share ``u``, independently."""
    x, y, z = xyz
    v = u**2
    covariance = (v * x * x, v * y * y, v * z * z, 0.0, 0.0, 0.0)
    return StepData(
        name,
        "b",
        {},
        (0, 0, 0),
        10,
        "centre",
        (0.5, 0.5),
        50,
        50,
        xyz,
        covariance,
        0,
        0,
        0,
        ((1, 1),),
        metrology=Metrology(),
    )


def delta(xyz: tuple[float, float, float], luminance: float) -> float:
    return float(itp.delta_e_itp(itp.ictcp(xyz), itp.ictcp(grey_xyz(luminance))))


def test_an_aim_that_was_measured_moves_the_difference_as_bt2124_says() -> None:
    """Derivative by the peak: by the formula of BT.2124-0 itself, the peak moved by a ten thousandth."""
    xyz, peak, u = (560.0, 600.0, 640.0), 640.0, 2.0
    one = light("a", xyz, 1e-9)
    values, cloud = delta_e_itp_cloud([one], [grey_xyz(peak)], [[(1.0, Fixed(((NOISE, u),)))]])
    assert values[0] == pytest.approx(delta(xyz, peak))
    found = cloud.row(0).contributions()
    assert found is not None
    h = 1e-4 * peak
    slope = (delta(xyz, peak + h) - delta(xyz, peak - h)) / (2.0 * h)
    assert found[NOISE] == pytest.approx(slope * u, rel=1e-4)


def test_what_light_and_aim_share_cancels() -> None:
    """The step that is the peak: its luminance is its own aim, so that only its colour can be wrong."""
    peak = light("peak", grey_xyz(640.0), 0.01)
    _, exact = delta_e_itp_cloud([peak], [grey_xyz(640.0)])
    _, shared = delta_e_itp_cloud([peak], [grey_xyz(640.0)], [[(1.0, OfLight(peak, "Y"))]])
    drawn = np.random.default_rng(1).standard_normal((20_000, 3)) * 0.01 / 50**0.5 + 1.0  # the mean of 50 readings
    lights = np.array(grey_xyz(640.0)) * drawn
    aims = np.array([grey_xyz(one) for one in lights[:, 1]])
    apart = itp.delta_e_itp(itp.ictcp(lights), itp.ictcp(aims))
    for cloud, smaller in ((shared, True), (exact, False)):
        loads = cloud.loads
        assert loads is not None
        squares = float((loads[1] ** 2).sum())
        assert (squares == pytest.approx(float((apart**2).mean()), rel=0.05)) == smaller


def test_an_aim_of_black_leans_on_nothing() -> None:
    values, cloud = delta_e_itp_cloud([light("dark", (0.01, 0.01, 0.01))], [grey_xyz(0.0)], [[(0.0, Fixed(()))]])
    assert np.isfinite(values[0])
    assert cloud.row(0).contributions() is not None
