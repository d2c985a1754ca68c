"""Areas and coverage of gamuts: a published table's primaries, an independent library, and laws."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from benchd.measurements.gamut.area import Point, area, area_ratio, coverage, shared
from benchd.profile.colour_codes import uv_prime
from tests.analysis.tables import rows

EXACT = settings(derandomize=True, max_examples=200, deadline=None)

PRIMARIES: dict[str, tuple[Point, Point, Point]] = {
    "sRGB/BT.709": ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060)),  # IEC 61966-2-1; ITU-R BT.709
    "opRGB": ((0.640, 0.330), (0.210, 0.710), (0.150, 0.060)),  # IEC 61966-2-5
    "P3 (RP 431-2 / P3-D65)": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),  # SMPTE RP 431-2
    "BT.2020": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046)),  # ITU-R BT.2020
    "NTSC 1953": ((0.67, 0.33), (0.21, 0.71), (0.14, 0.08)),  # FCC 1953
    "made-up triangle": ((0.655, 0.325), (0.280, 0.640), (0.152, 0.052)),
}


@pytest.mark.parametrize("row", rows("gamut_coverage.csv"), ids=lambda row: f"{row['device']} of {row['target']}")
def test_standard_spaces_by_one_another(row: dict[str, str]) -> None:
    """Primaries of the standards named above; figures by an independent computation, agreeing with shapely."""
    device, target = PRIMARIES[row["device"]], PRIMARIES[row["target"]]
    assert coverage(device, target) == pytest.approx(float(row["coverage_xy"]), abs=1e-6)
    assert area_ratio(device, target) == pytest.approx(float(row["area_ratio_xy"]), abs=1e-6)
    in_uv = [uv_prime(*point) for point in device], [uv_prime(*point) for point in target]
    assert coverage(*in_uv) == pytest.approx(float(row["coverage_uv76"]), abs=1e-6)
    assert area_ratio(*in_uv) == pytest.approx(float(row["area_ratio_uv76"]), abs=1e-6)


@pytest.mark.parametrize(
    ("name", "in_xy", "in_uv"),
    [
        ("sRGB/BT.709", 0.112050, 0.064892),
        ("opRGB", 0.151150, 0.075707),
        ("P3 (RP 431-2 / P3-D65)", 0.152000, 0.081480),
        ("BT.2020", 0.211867, 0.111823),
        ("NTSC 1953", 0.158200, 0.074426),
    ],
)
def test_areas(name: str, in_xy: float, in_uv: float) -> None:
    """Worked by hand from the primaries (shoelace formula)."""
    # u'v' coordinates of the table were worked without rounding in between
    assert area(PRIMARIES[name]) == pytest.approx(in_xy, abs=1e-6)
    assert area([uv_prime(*point) for point in PRIMARIES[name]]) == pytest.approx(in_uv, abs=1e-6)


def test_a_wider_space_need_not_hold_a_narrower_one() -> None:
    """ITU-R BT.2020 holds 99.98 % of P3: a green and a red corner stand out."""
    assert 0.9997 < coverage(PRIMARIES["BT.2020"], PRIMARIES["P3 (RP 431-2 / P3-D65)"]) < 1.0


chromaticities = st.tuples(
    st.floats(min_value=0.05, max_value=0.75, allow_nan=False),
    st.floats(min_value=0.03, max_value=0.8, allow_nan=False),
)
triangles = st.tuples(chromaticities, chromaticities, chromaticities).filter(lambda one: area(one) > 1e-3)


@given(device=triangles, target=triangles)
@EXACT
def test_agrees_with_shapely(device: tuple[Point, ...], target: tuple[Point, ...]) -> None:
    """shapely (GEOS), an independent implementation of polygon intersection."""
    one, other = Polygon(device), Polygon(target)
    assert area(device) == pytest.approx(one.area, abs=1e-12)
    assert coverage(device, target) == pytest.approx(one.intersection(other).area / other.area, abs=1e-9)


@given(device=triangles, target=triangles)
@EXACT
def test_coverage_is_a_share_and_has_no_order(device: tuple[Point, ...], target: tuple[Point, ...]) -> None:
    found = coverage(device, target)
    assert 0.0 <= found <= 1.0
    assert found <= area_ratio(device, target) + 1e-12
    for one, other in itertools.product(itertools.permutations(device), itertools.permutations(target)):
        assert coverage(one, other) == pytest.approx(found, abs=1e-9)
    assert coverage(device, device) == pytest.approx(1.0, abs=1e-12)
    # What two triangles share is the same whichever is clipped by the other.
    assert area(shared(device, target) or [(0.0, 0.0)]) == pytest.approx(
        area(shared(target, device) or [(0.0, 0.0)]), abs=1e-9
    )


@given(device=triangles, target=triangles, scale=st.floats(min_value=0.1, max_value=50.0), shift=st.floats(-3.0, 3.0))
@EXACT
def test_coverage_has_no_scale_and_no_origin(
    device: tuple[Point, ...], target: tuple[Point, ...], scale: float, shift: float
) -> None:
    def moved(points: tuple[Point, ...]) -> list[Point]:
        return [(scale * x + shift, scale * y - shift) for x, y in points]

    assert coverage(moved(device), moved(target)) == pytest.approx(coverage(device, target), abs=1e-7)


def test_apart_is_nothing_and_within_is_all() -> None:
    small = ((0.30, 0.31), (0.32, 0.31), (0.31, 0.33))
    assert coverage(PRIMARIES["sRGB/BT.709"], small) == 1.0
    assert coverage(small, PRIMARIES["sRGB/BT.709"]) == pytest.approx(area(small) / 0.11205, abs=1e-12)
    assert coverage(((0.0, 0.9), (0.05, 0.95), (0.0, 0.95)), small) == 0.0
