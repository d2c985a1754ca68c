"""The open text format for colour data: what is written is read back, and faults have a place.

The form is that of ISO 28178, from memory; no published example was at hand to read.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.errors import ProfileError
from benchd.profile.reading.colour_data_text import TEXT_FIELDS, Cell, ColourTable, read_colour_text, write_colour_text
from tests.plan.helpers import refusal

TEXT = st.text(st.characters(exclude_categories=("Cs", "Cc", "Zl", "Zp")), max_size=20)
NUMBER = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**6), 10**6).map(float)
FIELDS = ("SAMPLE_ID", "SAMPLE_NAME", "RGB_R", "XYZ_X", "XYZ_Y", "XYZ_Z", "STDEV_X", "STRING")
NAMES = st.sampled_from(["ORIGINATOR", "SERIAL", "CREATED", "BENCHD_NOTE", "BENCHD_NOTICE", "X2"])


@st.composite
def tables(draw: st.DrawFn) -> ColourTable:
    fields = tuple(draw(st.lists(st.sampled_from(FIELDS), min_size=1, unique=True)))
    row: list[st.SearchStrategy[Cell]] = [TEXT if name in TEXT_FIELDS else NUMBER for name in fields]
    rows = draw(st.lists(st.tuples(*row), max_size=6))
    return ColourTable(tuple(draw(st.lists(st.tuples(NAMES, TEXT), max_size=4))), fields, tuple(rows))


@settings(derandomize=True, max_examples=300, deadline=None)
@given(tables())
def test_what_is_written_is_read_back(table: ColourTable) -> None:
    found = read_colour_text(write_colour_text(table), "made.txt")
    assert found == table
    assert repr(found) == repr(table), "to the sign of zero"


@settings(derandomize=True, max_examples=200, deadline=None)
@given(tables(), st.data())
def test_blanks_comments_and_line_ends_do_not_matter(table: ColourTable, data: st.DataObject) -> None:
    text = write_colour_text(table)
    lines = [line + data.draw(st.sampled_from(["", "  ", "\t# a comment", ' # "'])) for line in text.split("\n")]
    end = data.draw(st.sampled_from(["\n", "\r\n", "\n\n"]))
    assert read_colour_text("\ufeff" + end.join(lines), "made.txt") == table


WHOLE = """\
ISO28178
ORIGINATOR "somebody"
KEYWORD "OWN"
OWN "a ""word"" # not a comment"
NUMBER_OF_FIELDS 2
BEGIN_DATA_FORMAT
SAMPLE_ID XYZ_Y
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
"A1" 1.5E+2
A2 .25
END_DATA
"""


def test_a_file_by_hand() -> None:
    table = read_colour_text(WHOLE, "hand.txt")
    assert table.keyword("OWN") == 'a "word" # not a comment'
    assert table.rows == (("A1", 150.0), ("A2", 0.25))


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("ISO28178", "SOMETHING", "hand.txt:1:1: the first word must be ISO28178"),
        ("NUMBER_OF_SETS 2", "NUMBER_OF_SETS 3", "hand.txt:9:16: NUMBER_OF_SETS is 3, and there are 2"),
        ("NUMBER_OF_FIELDS 2", "NUMBER_OF_FIELDS two", "hand.txt:5:18: NUMBER_OF_FIELDS is 'two'; it must be a whole"),
        ("NUMBER_OF_FIELDS 2", "NUMBER_OF_FIELDS 5", "hand.txt:5:18: NUMBER_OF_FIELDS is 5, and there are 2"),
        ("A2 .25", "A2 pale", "hand.txt:12:4: XYZ_Y is 'pale'; it must be a number"),
        ("A2 .25", "A2 nan", "hand.txt:12:4: XYZ_Y is 'nan'"),
        ("A2 .25", "A2", "hand.txt:13:1: the last set has no XYZ_Y"),
        ("END_DATA\n", "", "hand.txt:13:1: the file ends where"),
        ('"A1"', '"A1', 'hand.txt:11:1: a " here has no end on its line'),
        ("XYZ_Y\n", "SAMPLE_ID\n", "hand.txt:7:11: field 'SAMPLE_ID' stands here twice"),
        ("BEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_Y\nEND_DATA_FORMAT\n", "", "BEGIN_DATA_FORMAT with the names"),
        ("ORIGINATOR", "originator", "hand.txt:2:1: 'originator' stands where a keyword must"),
    ],
)
def test_faults_have_a_place(old: str, new: str, fault: str) -> None:
    assert old in WHOLE
    assert fault in str(refusal(read_colour_text, WHOLE.replace(old, new), "hand.txt"))


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.text(max_size=80) | st.lists(st.sampled_from(WHOLE.split()), max_size=30).map(" ".join))
def test_any_text_is_a_table_or_a_fault(text: str) -> None:
    for one in (text, f"ISO28178 {text}"):
        fault = ""
        try:
            table = read_colour_text(one, "any.txt")
        except ProfileError as error:
            fault = str(error)
        assert fault.startswith("any.txt:") if fault else table.fields


@pytest.mark.parametrize(
    "table",
    [
        ColourTable((("OWN", "two\nlines"),), ("XYZ_Y",), ()),
        ColourTable((("BEGIN_DATA", "x"),), ("XYZ_Y",), ()),
        ColourTable((("own", "x"),), ("XYZ_Y",), ()),
        ColourTable((), (), ()),
        ColourTable((), ("END_DATA",), ()),
        ColourTable((), ("XYZ_Y",), ((float("nan"),),)),
        ColourTable((), ("XYZ_Y",), (("text",),)),
        ColourTable((), ("SAMPLE_ID",), ((1.0,),)),
    ],
)
def test_what_the_format_can_not_hold_is_refused(table: ColourTable) -> None:
    with pytest.raises(ValueError, match=r"can't|has a line end|holds numbers"):
        write_colour_text(table)
