"""Where a file of a publication is not what the logs give: the figure or the line, what stands there, what is computed.

To the bit, as files of the same versions are compared; for other versions: `benchd.report.publication.printed_digits`.
"""

from __future__ import annotations

import csv
import html
import io
import json
import re
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import PurePosixPath
from typing import Any, NamedTuple

from benchd.report.words import printable

AROUND = 32
"""So many letters are shown on either side of what differs."""
LONGEST = 160
MISSING = "nothing"
_TAG = re.compile(r"<[^>]*>")
_PNG = b"\x89PNG\r\n\x1a\n"


class Difference(NamedTuple):
    """One place in one file: what stands there, and what the logs give."""

    file: str
    where: str
    stands: str
    computed: str


def differences(file: str, stands: bytes, computed: bytes) -> Iterator[Difference]:
    """Every place in which a file is not what is computed; one at least where its bytes are not the same."""
    if stands == computed:
        return
    kind = PurePosixPath(file).suffix
    if kind == ".png":
        where, was, now = _of_pictures(stands, computed)
        yield Difference(file, where, was, now)
        return
    first, second = stands.decode(errors="backslashreplace"), computed.decode(errors="backslashreplace")
    found = False
    for where, was, now in _OF_KIND.get(kind, _of_lines)(first, second):
        found = True
        yield Difference(file, where, printable(was), printable(now))
    if not found:  # the same values in other bytes
        for where, was, now in _of_lines(first, second):
            yield Difference(file, where, printable(was), printable(now))


Places = Iterator[tuple[str, str, str]]


def values_of(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every plain value of a JSON document with its path."""
    if isinstance(value, dict) and value:
        for key, item in value.items():
            yield from values_of(item, f"{path}/{key}" if path else str(key))
    elif isinstance(value, list) and value:
        for index, item in enumerate(value):
            yield from values_of(item, f"{path}/{index}")
    else:
        yield path, value


class Written(float):
    """A number that is shown as it stands in its file, in digits that a float may not need."""

    text: str

    def __new__(cls, text: str) -> Written:
        """Raises ValueError when it is no number."""
        number = super().__new__(cls, text)
        number.text = text
        return number


def json_of(text: str) -> Any:
    """The document in a text, its numbers as they are written. Raises ValueError."""
    try:
        return json.loads(text, parse_float=Written)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None


def _of_json(stands: str, computed: str) -> Places:
    try:
        first = dict(values_of(json_of(stands)))
    except ValueError:
        yield from _of_lines(stands, computed)
        return
    second = dict(values_of(json_of(computed)))
    for path in dict.fromkeys((*second, *first)):
        was, now = (repr_of(one[path]) if path in one else MISSING for one in (first, second))
        if was != now:
            yield path, was, now


def repr_of(value: object) -> str:
    """A value as JSON writes it, a number that was read as it stands there; not too long."""
    text = value.text if isinstance(value, Written) else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"


def rows_of(text: str) -> list[list[str]]:
    """The rows of a CSV; none where it can't be read."""
    try:
        return list(csv.reader(io.StringIO(text, newline="")))
    except csv.Error:
        return []


def _of_csv(stands: str, computed: str) -> Places:
    first, second = rows_of(stands), rows_of(computed)
    head, nothing = second[0], list[str]()
    if first and first[0] == head:
        for number, (was, now) in enumerate(zip_longest(first, second, fillvalue=nothing), 1):
            if was != now:
                columns = zip_longest(head, was, now, fillvalue="")
                name, one, other = next((part for part in columns if part[1] != part[2]), ("", "", ""))
                yield f"row {number} ({(now or was or [''])[0]}), {name or 'columns'}", one or MISSING, other or MISSING


def words_of_page(text: str) -> list[str]:
    """The lines of a page as they are read, without its tags; the number of lines stays."""
    plain = _TAG.sub(lambda tag: "\n" * tag[0].count("\n") or " ", text)
    return [" ".join(html.unescape(line).split()) for line in plain.split("\n")]


def _of_page(stands: str, computed: str) -> Places:
    first, second = words_of_page(stands), words_of_page(computed)
    if len(first) == len(second):
        yield from _of_same_lines(first, second)


def _of_lines(stands: str, computed: str) -> Places:
    first, second = stands.splitlines(), computed.splitlines()
    if len(first) == len(second):
        yield from _of_same_lines(first, second)
        if first == second:
            yield "line ends", repr(stands[-2:]), repr(computed[-2:])
        return
    pairs = enumerate(zip_longest(first, second), 1)
    number, (was, now) = next((n, pair) for n, pair in pairs if pair[0] != pair[1])
    shown = (MISSING if one is None else one for one in (was, now))
    yield f"line {number} ({len(first)} lines stand there, {len(second)} are computed)", *around(*shown)


def _of_same_lines(first: list[str], second: list[str]) -> Places:
    for number, (was, now) in enumerate(zip(first, second, strict=True), 1):
        if was != now:
            yield f"line {number}", *around(was, now)


def around(was: str, now: str) -> tuple[str, str]:
    """What differs of two lines, with a few letters around it, from blank to blank."""
    shared = min(len(was), len(now))
    begins = next((at for at in range(shared) if was[at] != now[at]), shared)
    same = next((at for at in range(shared - begins) if was[-1 - at] != now[-1 - at]), shared - begins)
    return _cut(was, begins, len(was) - same), _cut(now, begins, len(now) - same)


def _cut(text: str, begins: int, ends: int) -> str:
    low, high = max(0, begins - AROUND), min(len(text), ends + AROUND)
    low = text.rfind(" ", 0, low) + 1 if low and low - text.rfind(" ", 0, low) < AROUND else low
    shown = text[low:high][:LONGEST]
    return f"{'…' if low else ''}{shown}{'…' if low + len(shown) < len(text) else ''}" or MISSING


def pixels(content: bytes) -> Any:
    """The picture in a PNG file. Raises ValueError where it is none; its size is read before anything is unpacked."""
    from PIL import Image

    if not content.startswith(_PNG):
        raise ValueError("it does not begin as one")
    try:
        with Image.open(io.BytesIO(content), formats=("PNG",)) as picture:
            if picture.width * picture.height > 100_000_000:
                raise ValueError(f"{picture.width} x {picture.height} pixels are too many")
            return picture.convert("RGBA")
    except (OSError, SyntaxError, Image.DecompressionBombError) as error:
        raise ValueError(str(error)) from None


def _of_pictures(stands: bytes, computed: bytes) -> tuple[str, str, str]:
    from PIL import ImageChops

    now = pixels(computed)
    try:
        was = pixels(stands)
    except ValueError as error:
        return "the picture", f"no PNG that can be read ({printable(str(error))[:LONGEST]})", _size(now)
    if was.size != now.size:
        return "the picture", _size(was), _size(now)
    difference = ImageChops.difference(was, now)
    box = difference.getbbox(alpha_only=False)
    if box is None:
        return "its bytes, not its picture", f"{len(stands)} bytes", f"{len(computed)} other bytes"
    left, top, right, bottom = box
    row = difference.crop((0, top, was.width, top + 1))
    first = (row.getbbox(alpha_only=False) or box)[0], top
    where = f"pixel {first[0]} across, {top} down, counted from 0"
    if (right - left, bottom - top) != (1, 1):
        where += f"; others within {left} to {right - 1} across, {top} to {bottom - 1} down"
    return where, _colour(was.getpixel(first)), _colour(now.getpixel(first))


def _colour(rgba: tuple[int, ...]) -> str:
    """As #rrggbb; with the opacity where it is not full."""
    return "#" + bytes(rgba if rgba[3] < 255 else rgba[:3]).hex()


def _size(picture: Any) -> str:
    return f"{picture.width} x {picture.height} pixels"


_OF_KIND = {".json": _of_json, ".csv": _of_csv, ".html": _of_page}
