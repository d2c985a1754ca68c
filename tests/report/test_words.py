"""Durations, plurals, wrapping, colour."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.report.words import (
    columns,
    columns_within,
    count,
    duration,
    first_clauses,
    paint,
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


def test_a_table_that_is_too_wide_goes_on_in_the_next_line() -> None:
    rows = [
        ("", "plover", "curlew", "verdict"),
        ("coverage of opRGB in u'v'", "84.00 % (83.27 to 84.72)", "0.3216 ± 0.0040 cd/m2", "equivalent"),
    ]
    assert columns_within(rows, 100, ((0, 10),)) == columns(rows), "while there is room, it is a table as any other"
    lines = columns_within(rows, 64, ((0, 16), (1, 17), (2, 15)), left=(0, 3))
    assert max(map(len, lines)) <= 64
    assert "(83.27 to 84.72)" in "\n".join(lines), "an interval is kept whole where it can be"
    assert "± 0.0040 cd/m2" in "\n".join(lines)
    narrow = columns_within(rows, 10, tuple((column, 6) for column in range(4)))
    assert max(map(len, narrow)) <= 4 * 6 + 3 * 2


@settings(derandomize=True, deadline=None)
@given(st.lists(st.text("ab (1to2)±%", max_size=40), min_size=3, max_size=3), st.integers(24, 80))
def test_no_sign_of_a_narrow_table_is_lost(cells: list[str], width: int) -> None:
    lines = columns_within([("a", "b", "c"), tuple(cells)], width, tuple((column, 6) for column in range(3)))
    assert all(len(line) <= width for line in lines)
    assert sorted("".join(lines[1:]).replace(" ", "")) == sorted("".join(cells).replace(" ", ""))


@pytest.mark.parametrize("width", [44, 60])
def test_a_name_goes_on_in_the_next_line_after_a_sign_that_parts_it(width: int) -> None:
    cells = ("White luminance", "349.9 ± 4.4 cd/m2", "at brightness=100, preset=standard")
    lines = columns_within([cells], width, ((2, 6), (0, 9)), left=(0, 2))
    assert max(map(len, lines)) <= width
    ends = " ".join(line.split("  ")[-1] for line in lines)
    for part in ("brightness=", "100,", "preset=", "standard"):
        assert part in ends, lines


def test_of_a_long_sentence_the_first_clauses_stay() -> None:
    said = "in doubt: greys read twice: in trials, 95 % intervals (few greys, dark) held the truth less often: 3 steps"
    assert first_clauses(said, len(said)) == said
    assert first_clauses(said, 100) == "in doubt: greys read twice; see --details"
    comma = "white did not change (350 -> 350) though brightness went to 50, and nobody confirmed that it was set"
    assert first_clauses(comma, 80) == "white did not change (350 -> 350) though brightness went to 50; see --details"
    assert first_clauses("many " * 30, 40).endswith("many...")


@given(st.text("ab ,;:()", max_size=200), st.integers(40, 90))
def test_first_clauses_fit_their_line(text: str, width: int) -> None:
    found = first_clauses(text, width)
    assert len(found) <= width
    if found.endswith(more := "; see --details"):
        assert text.startswith(found.removesuffix(more))
    else:
        assert found == text.rstrip() or found.endswith("...")
