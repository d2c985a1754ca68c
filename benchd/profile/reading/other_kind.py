"""A file of another kind than the one that is wanted: one sentence in place of an error for each of its keys."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from benchd.errors import Fault

KINDS = {
    "plan": "a plan",
    "bench": "a bench",
    "stage": "a dialect of a stage",
    "sheet": "a claim sheet",
    "correction": "a correction",
    "space": "a colour space",
    "meter": "a meter dialect",
    "target": "a target",
}
"""By the key that names the file. A key of two models is that of the one that stands first here."""
_OF_BENCHD = (
    (re.compile(r'\ufeff?\{"v":\d'), "a log"),
    (re.compile(r'\s*\{\s*"schema":\s*"(benchd\.[a-z-]+)/'), "{} as JSON"),
    (re.compile(r"\s*<!doctype html", re.IGNORECASE), "a page for a browser"),
)
PROSE = 5
"""So many lines, most of them without a key, are a text and not a profile with a slip in it."""


def other_kind(faults: Sequence[Fault], text: str, file: str, keys: Collection[str]) -> tuple[Fault, ...]:
    """``faults`` of ``text``; where it is not the kind of file that has ``keys``, one that says what it is."""
    own = next((key for key in KINDS if key in keys), None)
    if own is None:
        return tuple(faults)
    wanted = KINDS[own]
    advice = f"; give the file or the name of {wanted}"
    for begins, words in _OF_BENCHD:
        if found := begins.match(text):
            return (Fault(file, 1, 1, f"this is {words.format(*found.groups())}, not {wanted}{advice}"),)
    lines = list(_outer_lines(text))
    known = [(number, key) for number, key in lines if key in KINDS]
    first = next((key for _, key in lines), "")
    if known and (number := known[0][0]) and (key := known[0][1]) != own:
        named = any(each == own for _, each in lines)
        if not named or (key == first and key not in keys):
            return (Fault(file, number, 1, f"this is {KINDS[key]}, not {wanted}{advice}"),)
    if len(lines) >= PROSE and sum(key is not None for _, key in lines) * 2 < len(lines):
        text = f"this is not {wanted}, which has keys with values, one a line, such as '{own}: NAME'{advice}"
        return (Fault(file, 1, 1, text),)
    return tuple(faults)


def _outer_lines(text: str) -> Iterator[tuple[int, str | None]]:
    """Number and key of every line that is not indented, an item or a comment; None where it has no key."""
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1):
        if re.match(r"[^\s#-]", line):
            found = re.match(r"([A-Za-z_]\w*):(?:\s|$)", line)
            yield number, found[1] if found else None
