"""The open text format for colour data: keywords, the names of the fields, and a line for every set of data.

After ISO 28178 (exchange format for colour data using XML or ASCII text), the ASCII part, written from memory; it was
not tried against another implementation. As we write and read it::

    ISO28178
    ORIGINATOR	"benchd 0.1.0"
    KEYWORD	"BENCHD_XYZ_UNIT"
    BENCHD_XYZ_UNIT	"cd/m2"
    NUMBER_OF_FIELDS	5
    BEGIN_DATA_FORMAT
    SAMPLE_ID	SAMPLE_NAME	XYZ_X	XYZ_Y	XYZ_Z
    END_DATA_FORMAT
    NUMBER_OF_SETS	1
    BEGIN_DATA
    1	"luminance/white"	332.57	349.91	381.09
    END_DATA

Words are parted by blanks, tabs or line ends. Text stands in double quotes, and a quote within it is doubled. ``#``
begins a comment. A keyword that is not in the standard is declared by ``KEYWORD`` before it is used.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from benchd.errors import Fault, ProfileError

IDENTIFIER = "ISO28178"
STANDARD_KEYWORDS = frozenset(
    {"ORIGINATOR", "FILE_DESCRIPTOR", "CREATED", "MANUFACTURER", "SERIAL", "MATERIAL", "INSTRUMENTATION"}
)
"""Keywords of the standard that are used here (from memory); all others are declared."""

TEXT_FIELDS = frozenset({"SAMPLE_ID", "SAMPLE_NAME", "STRING"})
"""Fields whose cells are text; those of all others are numbers."""

Cell = str | float
_TOKEN = re.compile(r'"(?P<quoted>(?:[^"\r\n]|"")*)"(?=[\s#]|\Z)|(?P<word>[^\s"#]+)|#[^\r\n]*|(?P<open>")')
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d{1,3})?\Z")
_WORD = re.compile(r"[A-Z][A-Z0-9_]*\Z")
_FRAME = ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS", "BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")


@dataclass(frozen=True, slots=True)
class ColourTable:
    """One table. ``keywords``: (name, text) in their order; each of ``rows`` has a cell for each of ``fields``."""

    keywords: tuple[tuple[str, str], ...]
    fields: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def keyword(self, name: str) -> str:
        """The text of a keyword; "" where it is not there."""
        return dict(self.keywords).get(name, "")


def write_colour_text(table: ColourTable) -> str:
    """``table`` as text. Raises ValueError for what the format can't hold: text with line ends, figures that are
    not finite, names that are no names."""
    lines = [IDENTIFIER]
    for name, text in table.keywords:
        if not _WORD.match(name) or name in (*_FRAME, "KEYWORD"):
            raise ValueError(f"{name!r} can't be a keyword")
        if name not in STANDARD_KEYWORDS:
            lines.append(f"KEYWORD\t{_quoted(name)}")
        lines.append(f"{name}\t{_quoted(text)}")
    if not table.fields or not all(_WORD.match(name) and name not in _FRAME for name in table.fields):
        raise ValueError(f"{table.fields} can't be the names of fields")
    lines += [f"NUMBER_OF_FIELDS\t{len(table.fields)}", "BEGIN_DATA_FORMAT", "\t".join(table.fields), "END_DATA_FORMAT"]
    lines += [f"NUMBER_OF_SETS\t{len(table.rows)}", "BEGIN_DATA"]
    for row in table.rows:
        lines.append("\t".join(_cell(name, cell) for name, cell in zip(table.fields, row, strict=True)))
    return "\n".join([*lines, "END_DATA"]) + "\n"


def _quoted(text: str) -> str:
    if text.splitlines() not in ([], [text]):
        raise ValueError(f"{text!r} has a line end")
    return '"' + text.replace('"', '""') + '"'


def _cell(name: str, cell: Cell) -> str:
    if isinstance(cell, str):
        if name not in TEXT_FIELDS:
            raise ValueError(f"{name} holds numbers, not {cell!r}")
        return _quoted(cell)
    if name in TEXT_FIELDS or not math.isfinite(cell):
        raise ValueError(f"{cell} can't stand in {name}")
    # repr of a float is the shortest text that reads back to the same float; a whole number needs no point.
    return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 and str(cell) != "-0.0" else repr(cell)


def read_colour_text(text: str, file: str) -> ColourTable:
    """The first table in ``text``. Raises `ProfileError` with file:line:column for the first fault."""
    return _Reader(text, file).table()


class _Word(NamedTuple):
    text: str
    quoted: bool
    at: int  # where it begins in the text


class _Reader:
    def __init__(self, text: str, file: str) -> None:
        self._file, self._text = file, text.removeprefix("\ufeff")
        self._words = self._split()

    def _split(self) -> Iterator[_Word]:
        for match in _TOKEN.finditer(self._text):
            if match["quoted"] is not None:
                yield _Word(match["quoted"].replace('""', '"'), True, match.start())
            elif match["word"]:
                yield _Word(match["word"], False, match.start())
            elif match["open"]:
                raise self._wrong(match.start(), 'a " here has no end on its line')

    def _wrong(self, at: int, text: str) -> ProfileError:
        begin = self._text.rfind("\n", 0, at) + 1
        return ProfileError((Fault(self._file, self._text.count("\n", 0, at) + 1, at - begin + 1, text),))

    def _take(self, wanted: str) -> _Word:
        word = next(self._words, None)
        if word is None:
            last = self._text.rfind("\n") + 1
            raise self._wrong(last, f"the file ends where {wanted} must stand")
        return word

    def table(self) -> ColourTable:
        first = self._take(IDENTIFIER)
        if first.text != IDENTIFIER:
            raise self._wrong(first.at, f"the first word must be {IDENTIFIER}")
        keywords: list[tuple[str, str]] = []
        fields: tuple[str, ...] = ()
        numbers: dict[str, tuple[int, _Word]] = {}
        while (word := self._take("BEGIN_DATA")).text != "BEGIN_DATA" or word.quoted:
            if word.quoted or not _WORD.match(word.text):
                raise self._wrong(word.at, f"{word.text!r} stands where a keyword must")
            if word.text == "BEGIN_DATA_FORMAT":
                fields = self._fields(word)
            elif word.text in ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS"):
                count = self._take("a number")
                if not count.text.isascii() or not count.text.isdigit() or len(count.text) > 9:
                    raise self._wrong(count.at, f"{word.text} is {count.text!r}; it must be a whole number")
                numbers[word.text] = int(count.text), count
            else:
                value = self._take(f"the value of {word.text}")
                if word.text != "KEYWORD":
                    keywords.append((word.text, value.text))
        if not fields:
            raise self._wrong(word.at, "BEGIN_DATA_FORMAT with the names of the fields must come before the data")
        rows = self._rows(fields)
        for name, found in (("NUMBER_OF_FIELDS", len(fields)), ("NUMBER_OF_SETS", len(rows))):
            if name in numbers and numbers[name][0] != found:
                raise self._wrong(numbers[name][1].at, f"{name} is {numbers[name][0]}, and there are {found}")
        return ColourTable(tuple(keywords), fields, tuple(rows))

    def _fields(self, begin: _Word) -> tuple[str, ...]:
        fields: list[str] = []
        while (word := self._take("END_DATA_FORMAT")).text != "END_DATA_FORMAT":
            if word.text in fields or not _WORD.match(word.text):
                raise self._wrong(word.at, f"field {word.text!r} stands here twice, or is no name")
            fields.append(word.text)
        if not fields:
            raise self._wrong(begin.at, "no field is named")
        return tuple(fields)

    def _rows(self, fields: tuple[str, ...]) -> list[tuple[Cell, ...]]:
        rows: list[tuple[Cell, ...]] = []
        while (word := self._take("END_DATA")).text != "END_DATA" or word.quoted:
            row: list[Cell] = []
            for name in fields:
                if row:
                    word = self._take(f"a value of {name}")
                if word.text == "END_DATA" and not word.quoted:
                    raise self._wrong(word.at, f"the last set has no {name}")
                row.append(self._value(name, word))
            rows.append(tuple(row))
        return rows

    def _value(self, name: str, word: _Word) -> Cell:
        if name in TEXT_FIELDS:
            return word.text
        if word.quoted or not _NUMBER.match(word.text) or not math.isfinite(float(word.text)):
            raise self._wrong(word.at, f"{name} is {word.text!r}; it must be a number")
        return float(word.text)
