"""What an answer means: units, scales and chromaticities against published figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.errors import MeterGarbled, MeterWrongUnit
from benchd.instruments.answers import understand
from benchd.instruments.meter import FOOT_LAMBERT_CD_M2, Status
from benchd.profile.dialect import Dialect
from benchd.profile.reading.strict_yaml import load_model

NUMBER = r"[-+.0-9eE]+"


def dialect(groups: str, *more: str, unit: str = "unit: cd_m2") -> Dialect:
    names = groups.split()
    return load_model(
        Dialect,
        "\n".join(
            [
                "meter: small",
                "identify: {send: I, expect: '(?P<model>.+) (?P<serial>.+)', example: '{model} {serial}'}",
                "measure:",
                "  send: M",
                "  expect: '" + " ".join(f"(?P<{name}>\\S+)" for name in names) + "'",
                "  example: '" + " ".join(f"{{{name}}}" for name in names) + "'",
                "  answers_within_s: {fixed: 1}",
                unit,
                *more,
            ]
        ),
        "small.yaml",
    )


def xyz(described: Dialect, answer: str) -> tuple[float, float, float]:
    got = understand(described, "M", answer).xyz
    assert got is not None
    return got


def test_foot_lambert() -> None:
    # NIST SP 811 (2008), appendix B.8: 1 footlambert = 3.426 259 cd/m2.
    assert pytest.approx(3.426259, abs=5e-7) == FOOT_LAMBERT_CD_M2
    assert xyz(dialect("X Y Z", unit="unit: foot_lambert"), "1 2 3") == pytest.approx(
        (3.426259, 6.852518, 10.278777), rel=2e-7
    )


def test_a_scale_is_applied_before_the_unit() -> None:
    assert xyz(dialect("X Y Z", "scale: 0.001"), "1000 2000 3000") == pytest.approx((1.0, 2.0, 3.0))
    got = xyz(dialect("Y x y", "scale: 0.001", unit="unit: foot_lambert"), "1000 0.25 0.5")
    assert got == pytest.approx((1.7131295, 3.426259, 1.7131295), rel=2e-7)


def test_chromaticity_of_d65() -> None:
    # x 0.3127, y 0.3290: ITU-R BT.709-6, item 1.4. XYZ 95.047, 100, 108.883 for Y = 100: ASTM E308 (from memory).
    # u' 0.1978, v' 0.4683: that x, y by the formulas of CIE 15:2018, 8.1, to four digits.
    assert xyz(dialect("Y x y"), "100 0.3127 0.3290") == pytest.approx((95.047, 100.0, 108.883), rel=5e-4)
    assert xyz(dialect("Y u v"), "100 0.1978 0.4683") == pytest.approx((95.047, 100.0, 108.883), rel=1e-3)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.tuples(*[st.floats(0.001, 5000.0)] * 3))
def test_the_three_forms_of_one_light_are_one_light(light: tuple[float, float, float]) -> None:
    # Chromaticities from XYZ as CIE 15:2018 defines them, 7.3 (x, y) and 8.1 (u', v').
    big_x, big_y, big_z = light
    total, uv = sum(light), big_x + 15 * big_y + 3 * big_z
    forms = {
        "X Y Z": light,
        "Y x y": (big_y, big_x / total, big_y / total),
        "Y u v": (big_y, 4 * big_x / uv, 9 * big_y / uv),
    }
    for groups, figures in forms.items():
        got = understand(dialect_of[groups], "M", " ".join(map(repr, figures)))
        assert got.xyz == pytest.approx(light, rel=1e-6, abs=1e-6)
        assert got.status is Status.OK


dialect_of = {groups: dialect(groups) for groups in ("X Y Z", "Y x y", "Y u v")}


@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    st.lists(st.floats(allow_nan=True, allow_infinity=True), min_size=3, max_size=3), st.sampled_from(list(dialect_of))
)
def test_any_figures_are_a_possible_light_or_garbled(figures: list[float], groups: str) -> None:
    try:
        got = understand(dialect_of[groups], "M", " ".join(map(repr, figures)))
    except MeterGarbled:
        return
    assert got.xyz is not None
    assert all(math.isfinite(value) and value >= -0.05 for value in got.xyz)


@settings(max_examples=300, derandomize=True, deadline=None)
@given(st.text(max_size=40))
def test_any_other_text_is_garbled(text: str) -> None:
    if len(text.split()) == 3:
        text += " more"
    with pytest.raises(MeterGarbled) as raised:
        understand(dialect_of["Y x y"], "M", text)
    assert "\n" not in str(raised.value)


UNITS = ("units: {cd/m2: cd_m2, fL: foot_lambert}",)


def test_a_unit_told_with_the_answer() -> None:
    either = dialect("X Y Z unit", *UNITS, unit="")
    assert xyz(either, "1 1 1 cd/m2") == (1.0, 1.0, 1.0)
    assert xyz(either, "1 1 1 fL") == pytest.approx((3.426259,) * 3, rel=2e-7)
    fixed = dialect("X Y Z unit", *UNITS)
    assert xyz(fixed, "1 1 1 cd/m2") == (1.0, 1.0, 1.0)
    for described, token in ((either, "lux"), (fixed, "fL"), (fixed, "lux")):
        with pytest.raises(MeterWrongUnit, match=f"in unit '{token}'"):
            understand(described, "M", f"1 1 1 {token}")


def test_dark_readings_may_be_a_little_negative() -> None:
    assert xyz(dialect("X Y Z"), "-0.01 -0.02 0.01") == (-0.01, -0.02, 0.01)
    with pytest.raises(MeterGarbled, match="no light can be"):
        understand(dialect("X Y Z"), "M", "-0.01 -0.2 0.01")
    # Ten times the low end of the specified range, where that is more.
    assert xyz(dialect("X Y Z", "range_cd_m2: [0.1, 100]"), "0 -0.2 0")[1] == -0.2


def test_nothing_at_all_is_black() -> None:
    assert xyz(dialect("Y x y"), "0 0 0") == (0.0, 0.0, 0.0)


def test_impossible_figures_under_range_are_no_figures() -> None:
    described = dialect("status Y x y", "status: {G: ok, L: under, U: unstable}")
    under = understand(described, "M", "L 0.001 1.2 -0.3")
    assert (under.xyz, under.status) == (None, Status.UNDER)
    for good in ("G", "U"):
        with pytest.raises(MeterGarbled):
            understand(described, "M", f"{good} 0.001 1.2 -0.3")


@pytest.mark.parametrize(("group", "text"), [("integration_s", "0.25"), ("integration_ms", "250")])
def test_the_integration_time_that_the_meter_tells(group: str, text: str) -> None:
    assert understand(dialect(f"X Y Z {group}"), "M", f"1 1 1 {text}").integration_s == pytest.approx(0.25)
