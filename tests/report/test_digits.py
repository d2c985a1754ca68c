"""Digits: never more than the scatter supports, bounds never rounded inward."""

import math
from decimal import Decimal
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.digits import (
    FINEST,
    Finest,
    bound,
    first_place,
    grouped,
    last_place,
    number,
    rounded,
    standard_deviation_percent,
    with_ends,
    with_uncertainty,
)

LAW = settings(derandomize=True, deadline=None, max_examples=300)
finite = st.floats(-1e9, 1e9, allow_nan=False, allow_infinity=False)
positive = st.floats(1e-9, 1e9)


def read_back(text: str) -> Decimal:
    return Decimal(text.replace(" ", "").lstrip("<>"))


def edge(value: float, direction: Literal["above", "below"]) -> str:
    return bound(Quantity(value, "1", 3, bound=direction))


def shown_place(text: str) -> int:
    """The decimal exponent of the last digit printed."""
    return int(read_back(text).as_tuple().exponent)


@pytest.mark.parametrize(
    ("value", "unit", "scatter", "text"),
    [
        (384.6123, "cd/m2", 0.19, "384.6"),
        (384.6123, "cd/m2", 1.9, "385"),
        (384.6123, "cd/m2", 0.0019, "384.6"),
        (384.6123, "cd/m2", 0.0, "384.6"),
        (384.6123, "cd/m2", None, "384.6"),
        (0.35246, "cd/m2", 0.0021, "0.352"),
        (0.00034, "cd/m2", 0.000427785, "0.0003"),
        (12345.678, "cd/m2", 1.0, "12 350"),
        (6504.24, "K", None, "6504"),
        (6504.24, "K", 27.0, "6500"),
        (0.312727, "xy", 0.00004, "0.3127"),
        (0.0, "cd/m2", None, "0"),
        (0.0, "u'v'", None, "0.0000"),
        (-0.00001, "Duv", None, "0.0000"),
        (-9.6002, "%", None, "-9.60"),
        (3.0, "cd/m2", 40.0, "3"),
        (1648.0, "1", 20.18, "1650"),
    ],
)
def test_known_figures(value: float, unit: str, scatter: float | None, text: str) -> None:
    assert number(value, unit, scatter) == text


def test_a_sign_is_printed_only_where_there_is_one() -> None:
    assert number(0.0031, "Duv", sign=True) == "+0.0031"
    assert number(-0.0031, "Duv", sign=True) == "-0.0031"
    assert number(0.00001, "Duv", sign=True) == "0.0000"
    # A difference may be zero within its scatter; any other figure keeps a digit.
    assert number(-0.03, "%", 0.1, sign=True) == "0.0"
    assert number(0.03, "cd/m2", 0.1) == "0.03"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_figure_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="figure"):
        number(value, "cd/m2")
    with pytest.raises(ValueError, match="bound"):
        edge(value, "above")


@LAW
@given(finite, positive, st.sampled_from(["", *FINEST]))
def test_never_more_digits_than_the_scatter_supports(value: float, scatter: float, unit: str) -> None:
    text = number(value, unit, scatter)
    supported = first_place(scatter)
    if value:
        supported = min(supported, first_place(value))  # one significant digit is always left
    assert read_back(text) % Decimal(1).scaleb(supported) == 0
    if "." in text:
        assert shown_place(text) >= supported


@LAW
@given(finite, st.one_of(st.none(), st.floats(0, 1e6)), st.sampled_from(["", *FINEST]))
def test_the_text_is_the_value_to_half_of_its_last_digit(value: float, scatter: float | None, unit: str) -> None:
    place = last_place(value, scatter, FINEST.get(unit, Finest()))
    off = abs(read_back(number(value, unit, scatter)) - Decimal(repr(value)))
    assert off <= Decimal(5).scaleb(place - 1)


@LAW
@given(finite)
def test_a_bound_is_never_rounded_inward(value: float) -> None:
    # To the fifteen digits that a double carries for certain: 0.005 must not become 0.0051.
    tail = abs(Decimal(repr(value))) * Decimal("1e-14")
    assert read_back(edge(value, "above")) <= Decimal(repr(value)) + tail
    assert read_back(edge(value, "below")) >= Decimal(repr(value)) - tail


@LAW
@given(positive)
def test_a_bound_keeps_two_digits_and_loses_less_than_a_tenth(value: float) -> None:
    for direction in ("above", "below"):
        shown = read_back(edge(value, direction))
        assert len(shown.normalize().as_tuple().digits) <= 2
        assert abs(shown - Decimal(repr(value))) <= abs(Decimal(repr(value))) / 10


def test_the_known_bounds() -> None:
    # Contrast with a black at the noise floor, a worked example with the factors of Currie (1968):
    # 412 cd/m2 over .000747846 is 550 915 and is printed as 550 000; over the specified .005 as 82 000.
    assert edge(412 / 0.000747846, "above") == "> 550 000"
    assert edge(412 / 0.005, "above") == "> 82 000"
    assert edge(0.005, "below") == "< 0.005"
    assert edge(0.00501, "below") == "< 0.0051"
    assert edge(0.0, "below") == "< 0"
    assert bound(Quantity(-2.8e-14, "%", 3, bound="below"), "%") == "< 0"
    assert bound(Quantity(0.00123, "u'v'", 3, bound="below"), "u'v'") == "< 0.0013"
    assert bound(Quantity(0.00123, "%", 3, bound="above"), "%") == "> 0"


def test_what_is_no_bound_is_refused() -> None:
    with pytest.raises(ValueError, match="not a bound"):
        bound(Quantity(1.0, "1", 3))


def test_groups_of_three_from_five_digits_on() -> None:
    # SI Brochure, 9th edition, 5.4.4 (from memory): four digits need no space.
    assert [grouped(text) for text in ("999", "6504", "12345.5", "-1234567")] == [
        "999",
        "6504",
        "12 345.5",
        "-1 234 567",
    ]


def test_rounding_is_decimal_not_binary() -> None:
    assert rounded(2.675, -2) == "2.68"  # binary rounding would say 2.67
    assert rounded(0.5, 0) == "0"
    assert rounded(-0.2, 0) == "0"


def test_scatter_in_percent() -> None:
    assert standard_deviation_percent(384.6, 0.19) == "0.05 %"
    assert standard_deviation_percent(0.352, 0.0021) == "0.6 %"
    assert standard_deviation_percent(1.0, 0.0) == "0 %"
    assert standard_deviation_percent(0.0003, 0.0004) == "more than the value"
    assert standard_deviation_percent(0.0, 0.0004) == "more than the value"
    assert standard_deviation_percent(1.0, 1e-7) == "0.000 %"


@pytest.mark.parametrize(
    ("value", "expanded", "kind", "shown"),
    [
        (1.05e-9, 1.0e-10, "cd/m2", ("1.05e-9", "0.10e-9")),
        (1.05e-9, 4.0e-9, "cd/m2", ("1.0e-9", "4.0e-9")),
        (1.05e-9, 3.0e-7, "cd/m2", ("0.0000000", "0.0000003")),  # zero within what is known, and says so
        (1.05e-9, 1.0e-10, "dE00", ("0.000", "0.001")),  # a distance is zero where it can't be seen
        (0.00105, 0.0002, "cd/m2", ("0.00105", "0.00020")),
    ],
)
def test_a_small_amount_is_not_printed_as_zero(
    value: float, expanded: float, kind: str, shown: tuple[str, str]
) -> None:
    """1.05e-9 was printed as 0.0000000."""
    assert with_uncertainty(value, expanded, kind) == shown


def test_a_small_amount_without_an_uncertainty_keeps_its_digits() -> None:
    assert number(1.05e-9, "cd/m2") == "1.05e-9"
    assert number(1.05e-9, "cd/m2", 1e-9) == "1e-9"
    assert number(-2.5e-8, "s") == "-2.50e-8"
    assert number(1.05e-9, "u'v'") == "0.0000"
    assert number(1.05e-9, "cd/m2", sign=True).strip("+0.") == "", "a difference may well be zero"


@pytest.mark.parametrize(
    ("value", "low", "high", "shown"),
    [
        (8000.0, 4001.3, 15_843_210.0, ("8000", "4000", "16 000 000")),  # each end to the second digit of its own half
        (1.57, 1.08, 2.40, ("1.57", "1.08", "2.40")),
        (1000.0, 656.7, 2094.97, ("1000", "660", "2090")),  # half the width is 719: tens
    ],
)
def test_the_long_half_of_a_skew_interval_does_not_round_the_other_away(
    value: float, low: float, high: float, shown: tuple[str, str, str]
) -> None:
    kind = "1" if value > 100.0 else "dE00"
    assert with_ends(value, low, high, kind) == shown
