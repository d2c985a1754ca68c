"""Durations, plurals, wrapping, colour."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.report.words import (
    PERCENTILE,
    SHORT_PERCENTILE,
    columns,
    count,
    duration,
    paint,
    percentile_fitted,
    span,
    wrapped,
)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (41.4, "41 s"),
        (59.6, "1 min"),
        (132, "2 min 12 s"),
        (599.7, "10 min"),
        (1080, "18 min"),
        (3599, "60 min"),
        (7500, "2 h 05 min"),
        (28_800, "8 h 00 min"),
        (-3, "0 s"),
    ],
)
def test_durations(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_a_span_names_a_common_unit_once() -> None:
    assert span(1200, 3480) == "20 to 58 min"
    assert span(1200, 3600) == "20 to 60 min"
    assert span(3600, 7500) == "60 min to 2 h 05 min"
    assert span(41, 41.2) == "41 s"
    assert span(41, 132) == "41 s to 2 min 12 s"


def test_plurals() -> None:
    assert [count(1, "step"), count(2, "step"), count(0, "box", "boxes")] == ["1 step", "2 steps", "0 boxes"]


def test_colour_only_when_asked() -> None:
    assert paint("x", "red", False) == "x"
    assert paint("x", "red", True) == "\x1b[31mx\x1b[0m"
    assert paint("", "red", True) == ""


def test_numbers_are_not_parted_from_their_groups_or_units() -> None:
    text = "the black is below the range of the meter and so the contrast is > 82 000:1 at 0.005 cd/m2 or less"
    for width in range(30, 100):
        lines = wrapped(text, width)
        assert " ".join(lines) == text
        for tied in ("> 82 000:1", "0.005 cd/m2"):
            assert any(tied in line for line in lines)


@settings(derandomize=True, deadline=None)
@given(
    st.lists(st.sampled_from(["white", "1", "000", "cd/m2", "a-b"]), min_size=1, max_size=40),
    st.integers(40, 120),
)
def test_wrapping_keeps_the_width_and_the_words(words: list[str], width: int) -> None:
    lines = wrapped(" ".join(words), width, "  ")
    assert " ".join(line.strip() for line in lines) == " ".join(words)
    assert all(len(line) <= width or "000 000" in line for line in lines)


def test_columns_align() -> None:
    assert columns([("a", "10", "x"), ("bbb", "9", "yy")], left=(0, 2)) == ["a    10  x", "bbb   9  yy"]


def test_the_head_of_the_percentiles_is_never_taken_for_an_interval() -> None:
    rows = [("mean", PERCENTILE), ("1.10", "1.98")]
    assert percentile_fitted(rows, 80) == rows
    assert percentile_fitted(rows, 20) == [("mean", SHORT_PERCENTILE), rows[1]]
    assert "%" not in PERCENTILE + SHORT_PERCENTILE
