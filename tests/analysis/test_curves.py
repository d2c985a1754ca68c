"""Tone curves against the standards' own numbers and against colour-science."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import tone_curves as curves
from benchd.analysis.colour.target import Target, target_from
from benchd.errors import InputError
from tests.analysis.logs import SRGB, target_fields
from tests.analysis.tables import rows
from tests.oracles import colour as oracle

EXACT = settings(derandomize=True, max_examples=100, deadline=None)


def target(curve: dict[str, object]) -> Target:
    return target_from(target_fields(curve))


@pytest.mark.parametrize(("code", "output"), [(10, 0.00303527), (128, 0.21586050), (188, 0.50288646)])
def test_srgb_curve(code: int, output: float) -> None:
    """IEC 61966-2-1, formula worked by hand."""
    assert float(curves.srgb(code / 255)) == pytest.approx(output, abs=1e-8)


def test_srgb_agrees_with_colour_science() -> None:
    signal = np.arange(256) / 255
    np.testing.assert_allclose(curves.srgb(signal), oracle.models.eotf_sRGB(signal), atol=1e-12)


@pytest.mark.parametrize(("exponent", "output"), [(2.2, 0.21951972), (2.4, 0.19125266)])
def test_power_curves(exponent: float, output: float) -> None:
    """At code 128 of 255; (128 / 255) ** exponent worked by hand."""
    assert float(curves.power(128 / 255, exponent)) == pytest.approx(output, abs=1e-8)


@pytest.mark.parametrize(
    ("signal", "luminance"),
    [(0.0, 0.1), (0.1, 1.063786), (0.25, 5.218497), (0.5, 21.604911), (0.75, 52.420832), (1.0, 100.0)],
)
def test_bt1886(signal: float, luminance: float) -> None:
    """ITU-R BT.1886, Annex 1, white 100 and black 0.1 cd/m2; formula worked by hand."""
    assert float(curves.bt1886(signal, 100.0, 0.1)) == pytest.approx(luminance, abs=1e-6)


def test_bt1886_constants_and_zero_black() -> None:
    """ITU-R BT.1886, Annex 1:
    a 87.031053, b 0.059585 (so that L(1 - b) = a); with black 0, L(0.5) = 18.946457.
    """
    assert float(curves.bt1886(1.0 - 0.059585, 100.0, 0.1)) == pytest.approx(87.031053, abs=2e-4)
    assert float(curves.bt1886(0.5, 100.0, 0.0)) == pytest.approx(18.946457, abs=1e-6)


def test_bt1886_agrees_with_colour_science() -> None:
    signal = np.linspace(0.0, 1.0, 101)
    wanted = oracle.models.eotf_BT1886(signal, L_B=0.1, L_W=100.0)
    np.testing.assert_allclose(curves.bt1886(signal, 100.0, 0.1), wanted, atol=1e-10)


@given(black=st.floats(min_value=0.0, max_value=5.0), white=st.floats(min_value=50.0, max_value=2000.0))
@EXACT
def test_bt1886_ends_are_the_measured_ends(black: float, white: float) -> None:
    ends = curves.bt1886(np.array([0.0, 1.0]), white, black)
    assert ends.tolist() == pytest.approx([black, white], rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("row", rows("gsdf_samples.csv"), ids=lambda row: f"j {row['jnd_index']}")
def test_gsdf_table(row: dict[str, str]) -> None:
    """DICOM PS3.14 (2016a), Table B-1:
    formula within 7.4e-5 above j = 50, within 4.8e-5 cd/m2 up to there.
    """
    j, printed = float(row["jnd_index"]), float(row["luminance_table_cd_m2"])
    got = float(curves.gsdf_luminance(j))
    assert got == pytest.approx(float(row["luminance_formula_cd_m2"]), abs=1e-6)
    if j > 50:
        assert got == pytest.approx(printed, rel=7.5e-5)
    else:
        assert got == pytest.approx(printed, abs=5e-5)


def test_gsdf_agrees_with_colour_science() -> None:
    """With ``in_int``: without it the same call takes j for j / 1023 and is wrong without a warning."""
    index = np.arange(1, 1024)
    wanted = [oracle.models.eotf_DICOMGSDF(int(j), in_int=True) for j in index]
    np.testing.assert_allclose(curves.gsdf_luminance(index), wanted, rtol=1e-9)


def test_gsdf_of_the_standards_own_example_screen() -> None:
    """DICOM PS3.14, D.1.2: an example screen from j 32.54 to 453.85, which is .3048 to 84.36 cd/m2."""
    assert curves.gsdf_luminance([32.54, 453.85]).tolist() == pytest.approx([0.3048, 84.36], abs=5e-3)
    assert curves.gsdf_index(0.3048) == pytest.approx(32.54, abs=5e-3)


def test_gsdf_between_measured_ends() -> None:
    """DICOM PS3.14, 7.1, inverted by bisection apart from this code:
    0.5 and 250 cd/m2 are j 46.528077 and 604.086746; P-value 128 of 255 is 29.753879 cd/m2.
    """
    assert curves.gsdf_index(0.5) == pytest.approx(46.528077, abs=1e-5)
    assert curves.gsdf_index(250.0) == pytest.approx(604.086746, abs=1e-5)
    assert float(curves.gsdf(128 / 255, 250.0, 0.5)) == pytest.approx(29.753879, abs=1e-5)
    assert curves.gsdf(np.array([0.0, 1.0]), 250.0, 0.5).tolist() == pytest.approx([0.5, 250.0], rel=1e-9)


@given(st.floats(min_value=0.05, max_value=3990.0))
@EXACT
def test_gsdf_inverse_is_exact(luminance: float) -> None:
    assert float(curves.gsdf_luminance(curves.gsdf_index(luminance))) == pytest.approx(luminance, rel=1e-9)


def test_gsdf_is_refused_outside_its_range() -> None:
    with pytest.raises(ValueError, match=r"0\.01 cd/m2 is outside the 0\.05 to 3993 cd/m2"):
        curves.luminance_curve(target({"kind": "gsdf"}), 250.0, 0.01)


@pytest.mark.parametrize(
    "curve",
    [{"kind": "srgb"}, {"kind": "power", "exponent": 2.2}, {"kind": "bt1886"}, {"kind": "gsdf"}],
    ids=lambda curve: str(curve["kind"]),
)
def test_every_target_curve_rises_to_white(curve: dict[str, object]) -> None:
    luminance = curves.luminance_curve(target(curve), 250.0, 0.5)(np.arange(256) / 255)
    assert luminance[-1] == pytest.approx(250.0, rel=1e-9)
    assert (np.diff(luminance) > 0.0).all()


def test_curves_that_need_black_say_so() -> None:
    with pytest.raises(ValueError, match="black was not measured"):
        curves.luminance_curve(target({"kind": "bt1886"}), 100.0, None)
    with pytest.raises(ValueError, match="not below white"):
        curves.luminance_curve(target({"kind": "bt1886"}), 100.0, 100.0)


def test_a_target_that_can_not_be_used_is_named() -> None:
    with pytest.raises(InputError, match="'hlg' is not known; use srgb, power, bt1886, gsdf"):
        target({"kind": "hlg"})
    with pytest.raises(InputError, match="KeyError at 'exponent'"):
        target({"kind": "power"})
    with pytest.raises(InputError, match=r"chromaticity 0\.3, 0\.0"):
        target_from({**SRGB, "white": [0.3, 0.0]})
