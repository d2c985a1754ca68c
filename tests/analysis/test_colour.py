"""Colour formulae against published values, and against colour-science on many random colours."""

from __future__ import annotations

import importlib.util
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.colour import planckian
from tests.analysis.tables import FOLDER, rows
from tests.oracles import colour as oracle

D65 = (0.3127, 0.3290)
EXACT = settings(derandomize=True, max_examples=100, deadline=None)
labs = st.tuples(
    st.floats(min_value=0.0, max_value=100.0),
    st.floats(min_value=-100.0, max_value=100.0),
    st.floats(min_value=-100.0, max_value=100.0),
)


def random_labs(count: int, seed: int) -> colour.Array:
    return np.random.default_rng(seed).uniform((0.0, -110.0, -110.0), (100.0, 110.0, 110.0), (count, 3))


def planckian_maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_planckian", FOLDER / "make_planckian.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# --- colour differences -------------------------------------------------------------------------------------

OTHER_BRANCH = {"10": 7.2195, "14": 4.7461}
"""Pairs on the formula's discontinuity:
the last bit of atan2 decides, either value is right (colour-science leaves pair 14 out of its tests).
"""


@pytest.mark.parametrize("row", rows("ciede2000_pairs.csv"), ids=lambda row: f"pair {row['pair']}")
def test_ciede2000_pairs_of_sharma(row: dict[str, str]) -> None:
    """Sharma, Wu, Dalal, Color Res. Appl. 30 (2005) 21-30, Table 1."""
    first = [float(row[name]) for name in ("L1", "a1", "b1")]
    second = [float(row[name]) for name in ("L2", "a2", "b2")]
    allowed = [float(row["delta_e_00"]), OTHER_BRANCH.get(row["pair"], float(row["delta_e_00"]))]
    for got in (colour.delta_e_2000(first, second), colour.delta_e_2000(second, first)):
        assert min(abs(float(got) - one) for one in allowed) <= 1e-4


def test_ciede2000_agrees_with_colour_science_on_ten_thousand_pairs() -> None:
    first, second = random_labs(10_000, 1), random_labs(10_000, 2)
    np.testing.assert_allclose(
        colour.delta_e_2000(first, second), oracle.delta_E(first, second, method="CIE 2000"), atol=1e-9
    )
    near = first + np.random.default_rng(3).normal(0.0, 1.0, first.shape)
    np.testing.assert_allclose(
        colour.delta_e_2000(first, near), oracle.delta_E(first, near, method="CIE 2000"), atol=1e-9
    )


def test_de76_and_de94_agree_with_colour_science() -> None:
    first, second = random_labs(10_000, 4), random_labs(10_000, 5)
    np.testing.assert_allclose(
        colour.delta_e_76(first, second), oracle.delta_E(first, second, method="CIE 1976"), atol=1e-10
    )
    np.testing.assert_allclose(
        colour.delta_e_94(first, second), oracle.delta_E(first, second, method="CIE 1994"), atol=1e-9
    )


COS10, SIN10 = float(np.cos(np.radians(10.0))), float(np.sin(np.radians(10.0)))


@pytest.mark.parametrize(
    ("first", "second", "de76", "de94"),
    [
        ((50, 30, 40), (50, 33, 44), 5.0, 1.5384615385),
        ((50, 33, 44), (50, 30, 40), 5.0, 1.4388489209),
        ((50, 50, 0), (50, 50 * COS10, 50 * SIN10), 8.7155742748, 4.9803281570),
        ((50, 0, 0), (50, 3, 4), 5.0, 5.0),
    ],
)
def test_de76_and_de94(first: tuple[float, ...], second: tuple[float, ...], de76: float, de94: float) -> None:
    """CIE 15; CIE 116-1995, graphic arts (from memory); worked by hand from the formulae."""
    assert float(colour.delta_e_76(first, second)) == pytest.approx(de76, abs=1e-9)
    assert float(colour.delta_e_94(first, second)) == pytest.approx(de94, abs=1e-9)


@given(first=labs, second=labs)
@EXACT
def test_symmetry_and_identity(first: tuple[float, ...], second: tuple[float, ...]) -> None:
    for formula in (colour.delta_e_76, colour.delta_e_2000):
        assert float(formula(first, second)) == pytest.approx(float(formula(second, first)), abs=1e-9)
        assert float(formula(first, first)) == 0.0
        assert float(formula(first, second)) >= 0.0
    assert float(colour.delta_e_94(first, first)) == 0.0


def test_any_number_of_axes() -> None:
    first, second = random_labs(24, 6), random_labs(24, 7)
    folded = colour.delta_e_2000(first.reshape(2, 3, 4, 3), second.reshape(2, 3, 4, 3))
    np.testing.assert_array_equal(folded.ravel(), colour.delta_e_2000(first, second))
    xyz = np.abs(first).reshape(2, 12, 3)
    assert colour.cct_duv(xyz)[0].shape == (2, 12)
    assert colour.lab_from_xyz(xyz, (95.0, 100.0, 108.0)).shape == (2, 12, 3)


# --- spaces -------------------------------------------------------------------------------------------------


def test_lab_of_middle_grey() -> None:
    """CIE 15, ISO/CIE 11664-4: Y/Yn = 0.18418652 is L* 50."""
    white = colour.xyz_from_xy(D65)
    lab = colour.lab_from_xyz(0.18418652 * white, white)
    assert lab.tolist() == pytest.approx([50.0, 0.0, 0.0], abs=1e-6)


def test_lab_agrees_with_colour_science() -> None:
    xyz = np.random.default_rng(8).uniform(0.0, 1.2, (10_000, 3)) ** 3
    white = colour.xyz_from_xy(D65)
    np.testing.assert_allclose(colour.lab_from_xyz(xyz, white), oracle.XYZ_to_Lab(xyz, np.array(D65)), atol=1e-9)


def test_lab_of_24_published_colours() -> None:
    """McCamy, Marcus and Davidson (1976), values after November 2014:
    x, y, Y to L*, a*, b* at D50.
    """
    white = colour.xyz_from_xy((0.345703, 0.358539))
    for row in rows("published_24.csv"):
        xyz = colour.xyz_from_xy((float(row["x"]), float(row["y"])), float(row["Y"]))
        wanted = [float(row[name]) for name in ("L_d50", "a_d50", "b_d50")]
        assert colour.lab_from_xyz(xyz, white).tolist() == pytest.approx(wanted, abs=1e-3)


@pytest.mark.parametrize("method", ["bradford", "cat02"])
def test_24_published_colours_adapted_in_srgb(method: str) -> None:
    """The same colours, adapted D50 to D65, in codes of IEC 61966-2-1 (reference table, own primaries
    matrix).
    """
    whites = colour.xyz_from_xy((0.345703, 0.358539)), colour.xyz_from_xy(D65)
    to_rgb = np.linalg.inv(colour.rgb_to_xyz_matrix((0.64, 0.33), (0.30, 0.60), (0.15, 0.06), D65))
    for row in rows("published_24.csv"):
        xyz = colour.xyz_from_xy((float(row["x"]), float(row["y"])), float(row["Y"]))
        linear = to_rgb @ colour.adapted(xyz, *whites, method)
        size = np.abs(linear)
        code = 255.0 * np.sign(linear) * np.where(size <= 0.0031308, 12.92 * size, 1.055 * size ** (1 / 2.4) - 0.055)
        wanted = [float(row[f"srgb_{channel}_{method}"]) for channel in "rgb"]
        if min(linear) < 0.0:  # the table continues the curve's straight part below zero
            assert code[1:].tolist() == pytest.approx(wanted[1:], abs=0.02)
        else:
            assert code.tolist() == pytest.approx(wanted, abs=0.02)


def test_chromaticity_of_d65() -> None:
    """CIE 15: D65 is u' 0.197830, v' 0.468320."""
    assert colour.uv_from_xy(D65).tolist() == pytest.approx([0.197830, 0.468320], abs=1e-6)
    assert colour.uv_from_xyz(colour.xyz_from_xy(D65, 80.0)).tolist() == pytest.approx([0.197830, 0.468320], abs=1e-6)
    assert colour.xy_from_xyz(colour.xyz_from_xy(D65, 80.0)).tolist() == pytest.approx(list(D65), abs=1e-12)


def test_srgb_matrix() -> None:
    """SMPTE RP 177 on the primaries of IEC 61966-2-1 gives that standard's matrix (printed to 4 decimals)."""
    matrix = colour.rgb_to_xyz_matrix((0.64, 0.33), (0.30, 0.60), (0.15, 0.06), D65)
    printed = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    np.testing.assert_allclose(matrix, printed, atol=6e-5)
    np.testing.assert_allclose(matrix.sum(axis=1), colour.xyz_from_xy(D65), atol=1e-12)
    oracle_matrix = oracle.normalised_primary_matrix(np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]]), D65)
    np.testing.assert_allclose(matrix, oracle_matrix, atol=1e-12)


def test_bradford_and_cat02_agree_with_colour_science() -> None:
    one, other = colour.xyz_from_xy((0.345703, 0.358539)), colour.xyz_from_xy(D65)
    for method, name in (("bradford", "Bradford"), ("cat02", "CAT02")):
        wanted = oracle.adaptation.matrix_chromatic_adaptation_VonKries(one, other, transform=name)
        got = colour.adapted(np.eye(3), one, other, method).T
        np.testing.assert_allclose(got, wanted, atol=1e-9)
        np.testing.assert_allclose(got @ one, other, atol=1e-12)


# --- correlated colour temperature --------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("cct_duv.csv"), ids=lambda row: row["name"])
def test_cct_and_duv_reference_values(row: dict[str, str]) -> None:
    """Direct minimisation with the CIE 1931 observer at 1 nm and the SI value of c2."""
    cct, duv = colour.cct_duv(colour.xyz_from_xy((float(row["x"]), float(row["y"])), 100.0))
    assert float(cct) == pytest.approx(float(row["cct_k"]), abs=1.0)
    assert float(duv) == pytest.approx(float(row["duv"]), abs=2e-5)


def test_planckian_radiators_return_their_temperature() -> None:
    kelvin = np.geomspace(1010.0, 99_000.0, 500)
    u, v = planckian_maker().locus(1e6 / kelvin).T
    xy = np.stack([3.0 * u, 2.0 * v], axis=-1) / (2.0 * u - 8.0 * v + 4.0)[:, None]
    cct, duv = colour.cct_duv(colour.xyz_from_xy(xy))
    np.testing.assert_allclose(1e6 / cct, 1e6 / kelvin, atol=1e-5)  # a hundred-thousandth of a mired
    np.testing.assert_allclose(duv, 0.0, atol=1e-8)


def test_cct_agrees_with_colour_science() -> None:
    """Ohno's method as colour-science has it: within 0.12 K on the locus below 10000 K."""
    kelvin, offset = np.meshgrid(np.linspace(2500.0, 9500.0, 15), np.linspace(-0.02, 0.02, 9))
    grid = np.stack([kelvin.ravel(), offset.ravel()], axis=-1)
    u, v = oracle.temperature.CCT_to_uv_Ohno2013(grid).T
    xy = np.stack([3.0 * u, 2.0 * v], axis=-1) / (2.0 * u - 8.0 * v + 4.0)[:, None]
    cct, duv = colour.cct_duv(colour.xyz_from_xy(xy))
    np.testing.assert_allclose(cct, grid[:, 0], atol=2.0)
    np.testing.assert_allclose(duv, grid[:, 1], atol=2e-5)


def test_sign_of_duv() -> None:
    """Positive above the locus, greenish; negative below, pinkish."""
    assert float(colour.cct_duv(colour.xyz_from_xy((0.32, 0.36)))[1]) > 0.0
    assert float(colour.cct_duv(colour.xyz_from_xy((0.32, 0.30)))[1]) < 0.0


def test_no_cct_far_from_the_locus_nor_of_black() -> None:
    cct, duv = colour.cct_duv([colour.xyz_from_xy((0.30, 0.60)), np.zeros(3), colour.xyz_from_xy((0.64, 0.33))])
    assert np.isnan(cct).all()
    assert float(duv[0]) > colour.DUV_LIMIT
    assert np.isnan(duv[1])


def test_committed_locus_is_what_its_maker_makes() -> None:
    maker = planckian_maker()
    assert maker.STEP_MK == planckian.STEP_MK
    np.testing.assert_allclose(planckian.UV, maker.table(), atol=1e-10)
