"""Colours to codes: the plan's plain numbers against published matrices, the chart's codes, and the array formulae."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.colour import colorimetry as colour
from benchd.profile.charts import read_chart
from benchd.profile.colour_codes import (
    Adaptation,
    ColourSpace,
    Diagram,
    adapted,
    between,
    times,
    xyz_from_lab,
    xyz_from_xy,
)
from benchd.profile.profile_store import find, read_text
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.target_file import Space
from tests.analysis.tables import rows
from tests.oracles import colour as oracle

EXACT = settings(derandomize=True, max_examples=100, deadline=None)
SPACES = ("srgb", "p3-d65", "p3-cinema", "oprgb", "bt2020", "ntsc-1953")
codes = st.tuples(*[st.integers(min_value=0, max_value=255)] * 3)


def space(name: str) -> ColourSpace:
    return ColourSpace(load_model(Space, read_text(find("spaces", name)), name).normalised())


def test_matrix_of_srgb() -> None:
    """From the primaries after SMPTE RP 177, in full precision; rounded to 4 decimals it is that of IEC 61966-2-1."""
    published = [[0.412391, 0.357584, 0.180481], [0.212639, 0.715169, 0.072192], [0.019331, 0.119195, 0.950532]]
    np.testing.assert_allclose(space("srgb").to_xyz, published, atol=1e-6)


@pytest.mark.parametrize("name", SPACES)
def test_matrices_are_those_of_the_analysis(name: str) -> None:
    fields = load_model(Space, read_text(find("spaces", name)), name).normalised()
    primaries = [fields["primaries"][one] for one in ("red", "green", "blue")]
    np.testing.assert_allclose(space(name).to_xyz, colour.rgb_to_xyz_matrix(*primaries, fields["white"]), atol=1e-12)


def test_bradford_from_d50_to_d65() -> None:
    """B. Lindbloom's published matrix between the whites of ASTM E308, which he prints to seven digits."""
    d50, d65 = (0.96422, 1.0, 0.82521), (0.95047, 1.0, 1.08883)
    whites = [(one[0] / sum(one), one[1] / sum(one)) for one in (d50, d65)]
    units = [adapted(unit, *whites, "bradford") for unit in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))]
    published = [[0.955577, -0.023039, 0.063164], [-0.028290, 1.009942, 0.021008], [0.012298, -0.020483, 1.329910]]
    np.testing.assert_allclose(np.array(units).T, published, atol=1e-6)


@pytest.mark.parametrize("method", ["bradford", "cat02"])
def test_codes_of_24_published_colours(method: Adaptation) -> None:
    """McCamy, Marcus, Davidson (1976), edition after November 2014: unrounded sRGB codes of the table."""
    srgb, white = space("srgb"), (0.345703, 0.358539)
    for row in rows("published_24.csv"):
        lab = (float(row["L_d50"]), float(row["a_d50"]), float(row["b_d50"]))
        xyz = adapted(xyz_from_lab(lab, xyz_from_xy(white)), white, srgb.white_xy, method)
        found = [255.0 * signal for signal in srgb.encoded(xyz)]
        wanted = [float(row[f"srgb_{channel}_{method}"]) for channel in "rgb"]
        assert found == pytest.approx(wanted, abs=0.01)
        assert srgb.coded(xyz, 8).outside == (row["number"] == "18")


def test_the_chart_of_test_colours_is_computed_again() -> None:
    """CIE 13.3-1995 samples 1 to 14 under D65, by the library's own integration from 360 to 830 nm by 1 nm."""
    chart = read_chart(read_text(find("charts", "cie-test-colours")), "cie-test-colours.csv", 8)
    factors = oracle.quality.datasets.tcs.SDS_TCS["CIE 1995"]
    observer = oracle.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    d65 = oracle.SDS_ILLUMINANTS["D65"].copy().align(observer.shape)
    assert [one.name[:5].upper() for one in chart.colours] == list(factors)
    assert chart.white == pytest.approx(oracle.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"], abs=5e-5)
    for one, factor in zip(chart.colours, factors.values(), strict=True):
        xyz = oracle.sd_to_XYZ(factor.copy().align(observer.shape), observer, d65, method="Integration") / 100.0
        assert one.figures == pytest.approx((*oracle.XYZ_to_xy(xyz), xyz[1]), abs=5e-5), one.name


@pytest.mark.parametrize(
    ("hue", "diagram", "wanted"),
    [
        (0, "xy", (204.464, 91.642, 91.642)),
        (0, "uv", (207.594, 89.244, 89.244)),
        (2, "xy", (69.892, 69.892, 127.846)),
        (2, "uv", (65.699, 65.699, 150.256)),
    ],
)
def test_half_saturated_codes(hue: int, diagram: Diagram, wanted: tuple[float, float, float]) -> None:
    """Worked by hand: half way to sRGB red or blue, luminance of the full primary (common practice)."""
    srgb = space("srgb")
    full = (srgb.to_xyz[0][hue], srgb.to_xyz[1][hue], srgb.to_xyz[2][hue])
    signals = srgb.encoded(between(srgb.white_xy, full, 0.5, diagram))
    assert [255.0 * one for one in signals] == pytest.approx(wanted, abs=0.002)


@given(code=codes, name=st.sampled_from(SPACES))
@EXACT
def test_a_code_comes_back(code: tuple[int, int, int], name: str) -> None:
    one = space(name)
    assert one.coded(one.decoded(code, 8), 8) == (code, False)


@given(code=codes, first=st.sampled_from(SPACES), second=st.sampled_from(SPACES))
@EXACT
def test_adaptation_there_and_back_is_nothing(code: tuple[int, int, int], first: str, second: str) -> None:
    one, other = space(first), space(second)
    xyz = one.decoded(code, 8)
    there = adapted(xyz, one.white_xy, other.white_xy, "bradford")
    back = adapted(there, other.white_xy, one.white_xy, "bradford")
    assert back == pytest.approx(xyz, abs=1e-9)
    assert adapted(one.white, one.white_xy, other.white_xy, "cat02") == pytest.approx(other.white, abs=1e-9)


def test_lab_is_that_of_the_analysis() -> None:
    white = xyz_from_xy((0.3457, 0.3585))
    for lab in ((50.0, 0.0, 0.0), (3.0, 5.0, -4.0), (81.8, 2.67, 80.41), (100.0, 0.0, 0.0)):
        np.testing.assert_allclose(colour.lab_from_xyz(xyz_from_lab(lab, white), white), lab, atol=1e-10)


def test_primaries_on_a_line_are_refused() -> None:
    fields = {"white": (0.31, 0.33), "curve": {"kind": "srgb"}}
    fields["primaries"] = {"red": (0.6, 0.3), "green": (0.4, 0.3), "blue": (0.2, 0.3)}
    with pytest.raises(ValueError, match="on one line"):
        ColourSpace(fields)


def test_matrix_times_vector() -> None:
    assert times(((1.0, 2.0, 3.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0)), (1.0, 1.0, 2.0)) == (9.0, 1.0, 1.0)
