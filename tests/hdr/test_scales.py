"""PQ, HLG and ICtCp against the published tables, worked examples and an independent library."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import hlg, itp, pq
from benchd.analysis.light.windows import signal_of
from benchd.plan import signal as scalar
from benchd.plan.signal import Signal
from tests.analysis.tables import rows
from tests.oracles import colour

# SMPTE ST 2084:2014, ITU-R BT.2100 Table 4: the constants; the table holds what they give.


@pytest.mark.parametrize("row", [row for row in rows("pq_table.csv") if row["direction"] == "luminance_to_signal"])
def test_pq_signal_of_a_luminance(row: dict[str, str]) -> None:
    level = float(row["x"])
    assert float(pq.signal(level)) == pytest.approx(float(row["y"]), abs=1e-8)
    assert scalar.pq_signal(level) == pytest.approx(float(row["y"]), abs=1e-6)  # black is exactly 0 for a code


@pytest.mark.parametrize("row", [row for row in rows("pq_table.csv") if row["direction"] == "code_to_luminance"])
def test_pq_luminance_of_a_code_of_either_range(row: dict[str, str]) -> None:
    code = int(float(row["x"]))
    for name in ("full", "narrow"):
        if not row[f"{name}_range"]:
            continue
        value = signal_of(code, {"bits": 10, "range": name})
        if name == "narrow" and not 64 <= code <= 940:
            continue
        assert float(pq.luminance(value)) == pytest.approx(float(row[f"{name}_range"]), rel=1e-6, abs=1e-6)
        assert scalar.pq_luminance(value) == pytest.approx(float(row[f"{name}_range"]), rel=1e-6, abs=1e-6)


def test_pq_agrees_with_an_independent_library() -> None:
    levels = np.geomspace(0.001, 10_000, 200)
    assert pq.signal(levels) == pytest.approx(colour.models.eotf_inverse_ST2084(levels), abs=1e-12)
    signals = np.linspace(0, 1, 201)
    assert pq.luminance(signals) == pytest.approx(colour.models.eotf_ST2084(signals), rel=1e-9, abs=1e-12)


@given(st.floats(0.0, 10_000.0))
def test_pq_there_and_back(level: float) -> None:
    assert float(pq.luminance(pq.signal(level))) == pytest.approx(level, rel=1e-9, abs=1e-9)


@given(st.floats(0.001, 9_999.0))
def test_the_slope_of_pq_is_its_derivative(level: float) -> None:
    h = 1e-5 * level
    numeric = (float(pq.signal(level + h)) - float(pq.signal(level - h))) / (2 * h)
    assert float(pq.slope(level)) == pytest.approx(numeric, rel=1e-5)


# ITU-R BT.2100 Table 5; check values of signal .75 and .5 with peaks of 1000 and 500 cd/m2.


@pytest.mark.parametrize("row", rows("hlg_table.csv"))
def test_hlg_table(row: dict[str, str]) -> None:
    signal = float(row["signal"])
    assert float(hlg.scene(signal)) == pytest.approx(float(row["scene_linear"]), abs=1e-7)
    for peak in (1000, 500):
        wanted = float(row[f"luminance_lw_{peak}_cd_m2"])
        assert float(hlg.luminance(signal, peak)) == pytest.approx(wanted, rel=1e-6, abs=1e-6)
        assert scalar.hlg_luminance(signal, peak) == pytest.approx(wanted, rel=1e-6, abs=1e-6)


def test_hlg_black_lift() -> None:
    # ITU-R BT.2100 Table 5, user black level; worked by hand for 0.05 and 1000 cd/m2.
    assert hlg.black_lift(1000.0, 0.05) == pytest.approx(0.0279553, abs=1e-7)
    assert float(hlg.luminance(0.5, 1000.0, 0.05)) == pytest.approx(54.2552, abs=1e-4)
    assert hlg.system_gamma(500.0) == pytest.approx(1.073567, abs=1e-6)


def test_hlg_agrees_with_an_independent_library() -> None:
    signals = np.linspace(0, 1, 101)
    found = colour.models.eotf_BT2100_HLG(np.stack([signals] * 3, axis=-1), L_W=1000)[..., 0]
    assert hlg.luminance(signals, 1000.0) == pytest.approx(found, rel=1e-6, abs=1e-6)


@given(st.floats(0.0, 1.0), st.floats(400.0, 2000.0), st.floats(0.0, 0.5))
def test_hlg_there_and_back(signal: float, peak: float, black: float) -> None:
    light = hlg.luminance(signal, peak, black)
    assert float(hlg.signal_of(light, peak, black)) == pytest.approx(signal, abs=1e-6)


@given(st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3), st.floats(400.0, 2000.0))
@settings(deadline=None)
def test_hlg_of_colours_agrees_with_an_independent_library(rgb: list[float], peak: float) -> None:
    # The library's EOTF clips nothing and lifts no black here.
    found = colour.models.eotf_BT2100_HLG(np.array(rgb), L_W=peak)
    assert hlg.display_light(np.array(rgb), peak) == pytest.approx(found, rel=1e-4, abs=1e-3)


# ITU-R BT.2124-0: delta E ITP.


@pytest.mark.parametrize("row", rows("delta_e_itp_pairs.csv"))
def test_delta_e_itp_pairs(row: dict[str, str]) -> None:
    first = [float(row[f"{axis}1"]) for axis in ("I", "Ct", "Cp")]
    second = [float(row[f"{axis}2"]) for axis in ("I", "Ct", "Cp")]
    assert float(itp.delta_e_itp(first, second)) == pytest.approx(float(row["delta_e_itp"]), abs=1e-6)


def of_light(rgb: Sequence[float]) -> np.ndarray:
    """I, Ct, Cp of linear BT.2020 light in cd/m2."""
    return itp.ictcp(itp.xyz_from_rgb(rgb))


@pytest.mark.parametrize(
    ("first", "second", "wanted"),
    [
        ((100, 100, 100), (105, 100, 100), 4.04224373),
        ((100, 100, 100), (110, 110, 110), 6.90921273),
        ((203, 203, 203), (200, 203, 206), 1.70347796),
    ],
)
def test_delta_e_itp_of_light(first: tuple[float, ...], second: tuple[float, ...], wanted: float) -> None:
    one, other = of_light(first), of_light(second)
    assert float(itp.delta_e_itp(one, other)) == pytest.approx(wanted, abs=1e-6)
    assert float(of_light((100, 100, 100))[0]) == pytest.approx(0.508078422, abs=1e-9)


def test_ictcp_agrees_with_an_independent_library() -> None:
    rgb = np.random.default_rng(5).uniform(0.01, 1000.0, (200, 3))
    found = colour.RGB_to_ICtCp(rgb, method="ITU-R BT.2100-2 PQ")
    xyz = itp.xyz_from_rgb(rgb)
    assert itp.ictcp(xyz) == pytest.approx(found, abs=1e-7)


colours = st.tuples(*[st.floats(0.05, 4000.0)] * 3)


@given(colours, colours)
def test_delta_e_itp_is_symmetric_and_zero_only_for_itself(first: tuple[float, ...], second: tuple[float, ...]) -> None:
    one, other = of_light(first), of_light(second)
    assert float(itp.delta_e_itp(one, other)) == float(itp.delta_e_itp(other, one))
    assert float(itp.delta_e_itp(one, one)) == 0.0


@given(colours)
def test_the_slopes_are_derivatives(rgb: tuple[float, ...]) -> None:
    xyz = itp.xyz_from_rgb(rgb)
    values, slopes = itp.scaled_with_slopes(xyz[None])
    assert values[0] == pytest.approx(itp.ictcp(xyz) * itp.SCALE, rel=1e-12, abs=1e-12)
    for axis in range(3):
        h = 1e-4 * xyz[axis]
        moved = np.array([xyz + h * np.eye(3)[axis], xyz - h * np.eye(3)[axis]])
        up, down = itp.scaled_with_slopes(moved)[0]
        assert slopes[0, :, axis] == pytest.approx((up - down) / (2 * h), rel=2e-3, abs=1e-4)


def test_grey_difference_is_that_of_the_pq_signals() -> None:
    # 95 cd/m2 where 100 were asked for: -5.2572 codes of 10 bits and 3.700061 delta E ITP (worked by hand).
    off = float(pq.signal(95.0)) - float(pq.signal(100.0))
    assert 1023 * off == pytest.approx(-5.2572, abs=1e-4)
    assert 720 * abs(off) == pytest.approx(3.700061, abs=1e-6)


# The scale of a plan's codes.


def test_codes_of_either_range() -> None:
    # ITU-R BT.2100 Table 9: 10 bits narrow, black 64, peak 940; the nearest codes of 100 and 1000 cd/m2.
    full, narrow = Signal(transfer="pq"), Signal(transfer="pq", range="narrow")
    assert (full.code(0.0), full.code(1.0)) == (0, 1023)
    assert (narrow.code(0.0), narrow.code(1.0)) == (64, 940)
    assert Signal(transfer="pq", bits=8, range="narrow").code(1.0) == 235
    assert [full.level(level) for level in (100, 203, 1000, 10_000)] == [520, 594, 769, 1023]
    assert [narrow.level(level) for level in (100, 203, 1000, 10_000)] == [509, 573, 723, 940]


def test_hlg_level_of_the_reference_white() -> None:
    # ITU-R BT.2408: 203 cd/m2 is 75 % HLG with a nominal peak of 1000 cd/m2 (from memory).
    signal = Signal(transfer="hlg", peak_cd_m2=1000.0)
    assert signal.level(203.1521) == round(0.75 * 1023)
    grey = signal.colour((203.1521, 203.1521, 203.1521))
    assert grey == (767, 767, 767)


@given(st.floats(0.05, 1000.0))
def test_a_hlg_grey_is_the_same_by_level_and_by_colour(level: float) -> None:
    signal = Signal(transfer="hlg", peak_cd_m2=1000.0)
    assert abs(signal.level(level) - signal.colour((level, level, level))[0]) <= 1


def test_one_code_near_100_cd_m2() -> None:
    # One 10-bit step is 0.98 %, one 8-bit step 4.0 % of luminance.
    for bits, percent in ((10, 0.98), (8, 4.0)):
        top = (1 << bits) - 1
        code = round(top * scalar.pq_signal(100.0))
        step = 100 * (scalar.pq_luminance((code + 1) / top) / scalar.pq_luminance(code / top) - 1)
        assert step == pytest.approx(percent, abs=0.05)
    assert math.isclose(scalar.pq_luminance(1.0), 10_000.0)
