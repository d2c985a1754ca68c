"""Files of a publication that other versions computed: do they hold the same figures, to the digits that are printed?

A figure agrees where it is nearer than half a unit of the last digit that a report prints of it; any other number where
its first four digits agree. On page and plots, which print digits, the numbers in words agree or do not; lines
that this version writes otherwise, curves and pixels are not compared, which is said.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any

from benchd.report.digits import FINEST, Finest, digits_of, first_place, last_place
from benchd.report.publication.differences import (
    Difference,
    Written,
    around,
    json_of,
    pixels,
    repr_of,
    rows_of,
    values_of,
    words_of_page,
)
from benchd.report.words import count, printable

_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)*")
_PLOT = re.compile(r"<(svg|style)\b.*?</\1>", re.DOTALL)
_TEXT = re.compile(r"<text[^>]*>(.*?)</text>", re.DOTALL)
_ENDS = ("value", "low", "high")
SIGNIFICANT = 4
_NUMBER_ALONE = "#"
MOST_TICKS = 2
"""Numbers beside the ticks of an axis: where more of them are other ones, another version has put other ticks."""


def printed_differences(file: str, stands: bytes, computed: bytes) -> tuple[list[Difference], str]:
    """Figures that do not agree, and what of the file was not compared, "" where all of it was."""
    kind = PurePosixPath(file).suffix
    if kind == ".png":
        return _of_picture(file, stands, computed)
    first, second = stands.decode(errors="backslashreplace"), computed.decode(errors="backslashreplace")
    if kind == ".json":
        found, left = _of_json(first, second)
    elif kind == ".csv":
        found, left = _of_csv(first, second)
    elif kind == ".html":  # the curves of its plots are files of their own
        found, left = _of_lines(*(words_of_page(_PLOT.sub(_blank, page)) for page in (first, second)))
        found += _of_plot(first, second)[0]
    elif kind == ".svg":
        found, left = _of_plot(first, second)
        return [Difference(file, *map(printable, one)) for one in found], "curves" + (" and some words" if left else "")
    else:
        found, left = _of_lines(first.splitlines(), second.splitlines())
    return [Difference(file, *map(printable, one)) for one in found], count(
        left, "value or line", "values or lines"
    ) if left else ""


Found = tuple[list[tuple[str, str, str]], int]


def _of_picture(file: str, stands: bytes, computed: bytes) -> tuple[list[Difference], str]:
    try:
        same = pixels(stands).tobytes() == pixels(computed).tobytes()
    except ValueError as error:
        return [Difference(file, "the picture", f"no PNG that can be read ({printable(str(error))})", "a picture")], ""
    return [], "" if same else "pixels"


def _of_json(stands: str, computed: str) -> Found:
    try:
        document = json_of(stands)
    except ValueError:
        return [("the file", "no JSON", "JSON")], 0
    first, second = dict(values_of(document)), dict(values_of(json_of(computed)))
    return _of_values(first, second)


def _of_csv(stands: str, computed: str) -> Found:
    return _of_values(_cells(rows_of(stands)), _cells(rows_of(computed)))


def _cells(rows: Sequence[Sequence[str]]) -> dict[str, Any]:
    """Cells by path and column, numbers as numbers."""
    found: dict[str, Any] = {}
    head = rows[0] if rows else ()
    for row in rows[1:]:
        for name, cell in zip(head, row, strict=False):
            try:
                found[f"{row[0]}/{name}"] = Written(cell) if name != "log" else cell
            except ValueError:
                found[f"{row[0]}/{name}"] = cell
    return found


def _of_values(first: Mapping[str, Any], second: Mapping[str, Any]) -> Found:
    found, left = [], len(first.keys() ^ second.keys())
    for path in (path for path in second if path in first):
        was, now = first[path], second[path]
        if _is_number(was) and _is_number(now):
            agrees = abs(was - now) <= _half_a_digit(path, second)
        elif isinstance(was, str) and isinstance(now, str):
            agrees = was == now
            if not agrees and _skeleton(was) != _skeleton(now):  # another version may say it in other words
                left, agrees = left + 1, True
        else:
            agrees = was == now
        if not agrees:
            found.append((path, repr_of(was), repr_of(now)))
    return found, left


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _half_a_digit(path: str, document: Mapping[str, Any]) -> float:
    """Half a unit of the last digit that is printed of a number."""
    owner, _, name = path.rpartition("/")
    value, unit = document[path], document.get(f"{owner}/unit")
    if not value:
        return 1e-9
    if name in _ENDS and isinstance(unit, str):
        expanded = document.get(f"{owner}/expanded_uncertainty")
        finest = FINEST.get(digits_of(owner, unit), Finest())
        if _is_number(expanded) and expanded:
            place = max(first_place(expanded) - 1, -finest.decimals - 1)
        else:
            place = last_place(float(value), None, finest)
    else:
        place = math.floor(math.log10(abs(value))) + 1 - SIGNIFICANT
    return 0.5 * float(10.0**place)


def _of_lines(first: Sequence[str], second: Sequence[str]) -> Found:
    """Lines of the same words in which a number is another one; those whose words this version lacks are counted."""
    computed = Counter(filter(None, second))
    computed.subtract(Counter(first))
    waiting: dict[str, list[str]] = {}
    for line, times in computed.items():
        if times > 0:
            waiting.setdefault(_skeleton(line), []).extend([line] * times)
    if len(waiting.get(_NUMBER_ALONE, ())) > MOST_TICKS:
        del waiting[_NUMBER_ALONE]
    found, left = [], 0
    for number, line in _only(first, Counter(second)):
        if lines := waiting.get(_skeleton(line)):
            found.append((f"line {number}", *around(line, lines.pop(0))))
        else:
            left += 1
    return found, left + sum(map(len, waiting.values()))


def _of_plot(stands: str, computed: str) -> Found:
    """The words in plots."""
    found, left = _of_lines(_TEXT.findall(stands), _TEXT.findall(computed))
    return [(where.replace("line", "text", 1), was, now) for where, was, now in found], left


def _blank(part: re.Match[str]) -> str:
    """As many lines with nothing on them."""
    return "\n" * part[0].count("\n")


def _only(lines: Sequence[str], others: Counter[str]) -> Iterator[tuple[int, str]]:
    for number, line in enumerate(lines, 1):
        if others[line] > 0:
            others[line] -= 1
        elif line:
            yield number, line


def _skeleton(line: str) -> str:
    """A line without its numbers."""
    return _NUMBER.sub("#", line)
