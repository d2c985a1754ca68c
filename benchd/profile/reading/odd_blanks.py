"""Blanks that look like a space and are none, such as the no-break space of a word processor.

YAML takes them for letters, so that its message names something else. They are looked for only in a file that is at
fault, since a text may well contain one.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence

from benchd.errors import Fault

_BEFORE = r"^[ \t]*|[:,\[{-][ \t]*"
"""Where YAML needs a space or none: the indentation, and behind a sign of its own."""
_REACH = 1
"""Lines behind the blank that may be blamed for it."""


def with_odd_blanks(faults: Sequence[Fault], text: str, file: str) -> tuple[Fault, ...]:
    """``faults`` of ``text``; those in the lines of such a blank are replaced by one that names it and its place."""
    odd = list(_odd_blanks(text, file))
    lines = {fault.line for fault in faults}
    named = [one for one in odd if any(one.line + further in lines for further in range(_REACH + 1))]
    blamed = {one.line + further for one in named for further in range(_REACH + 1)}
    return (*named, *(fault for fault in faults if fault.line not in blamed))


def _odd_blanks(text: str, file: str) -> Iterator[Fault]:
    for number, line in enumerate(text.split("\n"), 1):
        if line.isascii():
            continue
        content = re.sub(r"(^|\s)#.*", "", line)
        for found in re.finditer(rf"(?:{_BEFORE})([^\S\t\n\r ]|[\u200b\u2060\ufeff])", content):
            sign = found[1]
            named = f"U+{ord(sign):04X}, {unicodedata.name(sign, 'no name').lower()}"
            yield Fault(file, number, found.start(1) + 1, f"a blank that is no plain space ({named}); type a space")
