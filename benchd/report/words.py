"""Small helpers for text on a terminal: durations, plurals, wrapped lines, colours only when asked."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from typing import TypeVar

Key = TypeVar("Key")
Item = TypeVar("Item")

SIMULATED = "SIMULATED"
"""The word that stands wherever a simulator took part."""

SIGNALS = {"pq": "PQ (SMPTE ST 2084)", "hlg": "HLG (ITU-R BT.2100)"}
"""Names of HDR signals."""
PRIMARIES = {"bt709": "ITU-R BT.709", "p3-d65": "P3 with D65", "bt2020": "ITU-R BT.2020"}
"""Names of the primaries whose colours a list of levels is made of."""

_CODES = {"bold": "1", "dim": "2", "red": "31", "green": "32", "yellow": "33"}
_JOIN = "\u00a0"


def duration(seconds: float) -> str:
    """``41 s``, ``18 min`` or ``2 h 05 min``; under ten minutes seconds are kept: ``2 min 12 s``.

    Below two hours minutes are easier to compare than hours.
    """
    whole = max(0, round(seconds))
    if whole < 60:
        return f"{whole} s"
    if whole < 600:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest:02d} s" if rest else f"{minutes} min"
    minutes = round(whole / 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def span(minimum_s: float, maximum_s: float) -> str:
    """``61 to 101 min`` where both ends have the same unit, else both in full."""
    least, most = duration(minimum_s), duration(maximum_s)
    if least == most:
        return most
    number, _, unit = least.partition(" ")
    if most.endswith(f" {unit}") and most.count(" ") == 1 == least.count(" "):
        return f"{number} to {most}"
    return f"{least} to {most}"


def count(number: int, one: str, many: str = "") -> str:
    """``1 step``, ``137 steps``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def readings_words(readings: int, of_warm_up: int) -> str:
    """``396 readings (37 of the warm-up)``: how many a warm-up takes is known only after it, so no plan counts them."""
    return count(readings, "reading") + (f" ({of_warm_up} of the warm-up)" if of_warm_up else "")


def plain(name: str) -> str:
    """A block's name as an anchor and a file may have it."""
    return re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-")


def caution_text(caution: str, whose: str = "") -> str:
    """What the operator should heed, as it stands in all commands; ``whose``: which jobs it is about."""
    about = f" ({whose})" if whose else ""
    return f"Caution{about}: {caution.rstrip('.')}."


def capital(text: str) -> str:
    """``text`` with its first letter large and the others as they are."""
    return text[:1].upper() + text[1:]


def printable(text: str, keep: str = "") -> str:
    """``text`` on one line, for a name that was not ours to choose: of a file, a sample, a display.

    Whatever would move the cursor, break the line or turn its direction stands as an escape: ``a\\nb``, ``\\x1b``.
    ``keep``: signs that stay as they are.
    """
    return text if text.isprintable() else "".join(sign if sign in keep else _shown(sign) for sign in text)


def _shown(sign: str) -> str:
    from unicodedata import category  # for a rare name only

    plain = sign.isprintable() or category(sign) == "Zs"  # blanks of other widths do no harm
    return sign if plain else sign.encode("unicode_escape").decode()


def wrapped(text: str, width: int, indent: str = "", hanging: str | None = None) -> list[str]:
    """``text`` in lines of at most ``width``; a number is never parted from its groups or its unit."""
    text = printable(" ".join(text.splitlines()))
    tied = re.sub(r"(?<=\d) (?=\d{3}\b)|(?<=\d) (?=(?:cd/m2|K|%|s|min|h)\b)|(?<=[<>±]) ", _JOIN, text)
    lines = textwrap.wrap(
        tied,
        max(width, len(indent) + 20),
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_JOIN, " ") for line in lines]


def one_word(text: str) -> str:
    """``text`` as one word, for `wrapped`."""
    return text.replace(" ", _JOIN)


def shortened(text: str, width: int) -> str:
    """``text`` on one line of at most ``width``; of a longer one its first words and three points."""
    text = printable(text).rstrip()
    if len(text) <= width:
        return text
    kept = text[: width - 3]
    return f"{kept[: kept.rfind(' ')] if ' ' in kept.strip() else kept}".rstrip(" ,;:") + "..."


_CLAUSES = (r"[;:] ", r", | \(")
"""Where a sentence may end early: rather between two statements than before an addition."""


def first_clauses(text: str, width: int, more: str = "; see --details", least: int = 20) -> str:
    """``text`` on one line of at most ``width``; of a longer one the first clauses, and where the rest is: ``more``.

    No clause is cut in its middle unless the first one alone, which has ``least`` signs, is too long.
    """
    text = printable(text).rstrip()
    if len(text) <= width:
        return text
    for ends in _CLAUSES:
        fit = [at for one in re.finditer(ends, text) if least <= (at := one.start()) <= width - len(more)]
        fit = [at for at in fit if text.count("(", 0, at) == text.count(")", 0, at)]
        if fit:
            return f"{text[: fit[-1]]}{more}"
    return shortened(text, width)


def unbroken(head: str) -> str:
    """The head of a column on one line; a word that was broken at its hyphen is whole again."""
    return head.replace("-\n", "-").replace("\n", " ")


def paint(text: str, style: str, colour: bool) -> str:
    """``text`` in a terminal style ("bold", "dim", "red", "green", "yellow") when ``colour`` is asked."""
    return f"\x1b[{_CODES[style]}m{text}\x1b[0m" if colour and text else text


def columns(rows: Sequence[Sequence[str]], *, left: Sequence[int] = ()) -> list[str]:
    """Rows of equal length as aligned text; columns named in ``left`` align left, the others right.

    Each row is one line, whatever names are in it.
    """
    plain = [[printable(cell) for cell in row] for row in rows]
    widths = _widths(plain)
    return [_aligned(row, widths, left) for row in plain]


def _widths(rows: Sequence[Sequence[str]]) -> list[int]:
    return [max(map(len, column)) for column in zip(*rows, strict=True)]


def _aligned(row: Sequence[str], widths: Sequence[int], left: Sequence[int]) -> str:
    cells = enumerate(zip(row, widths, strict=True))
    return "  ".join(cell.ljust(width) if i in left else cell.rjust(width) for i, (cell, width) in cells).rstrip()


def columns_within(
    rows: Sequence[Sequence[str]], width: int, narrower: Sequence[tuple[int, int]], *, left: Sequence[int] = ()
) -> list[str]:
    """`columns` in lines of at most ``width``: cells of a column that is too wide go on in the next line.

    ``narrower``: which column is made narrower first, and to how many signs at least. Words are broken only where that
    is not enough.
    """
    return [line for row in rows_within(rows, width, narrower, left=left) for line in row]


def rows_within(
    rows: Sequence[Sequence[str]], width: int, narrower: Sequence[tuple[int, int]], *, left: Sequence[int] = ()
) -> list[list[str]]:
    """`columns_within`, the lines of each row by themselves."""
    plain = [[printable(cell) for cell in row] for row in rows]
    widths = _widths(plain)
    whole = [(column, max(least, *(longest_piece(row[column]) for row in plain))) for column, least in narrower]
    for column, least in (*whole, *narrower):
        over = sum(widths) + 2 * (len(widths) - 1) - width
        widths[column] -= max(0, min(over, widths[column] - least))
    found = []
    for row in plain:
        cells = [_cell_lines(cell, most) for cell, most in zip(row, widths, strict=True)]
        numbers = range(max(1, *map(len, cells)))
        found.append([_aligned([cell[n] if n < len(cell) else "" for cell in cells], widths, left) for n in numbers])
    return found


_PIECE = re.compile(r" *(?:cd/m2|[^ =,/])*[=,/]*")
"""What is not broken: a word, or a part of it up to a sign after which a name may go on in the next line."""


def longest_piece(cell: str) -> int:
    """How many signs a column needs so that no name is broken in a part: one goes on after ``=``, ``,``, ``/``."""
    return max((len(piece.strip()) for piece in _PIECE.findall(cell)), default=0)


def _cell_lines(cell: str, width: int) -> list[str]:
    """The cell in lines of at most ``width``: an interval, or a number and its sign or unit, are parted last."""
    if not cell:
        return []
    tied = re.sub(r"\([^()]* to [^()]*\)", lambda found: found[0].replace(" ", _JOIN), cell)
    tied = re.sub(r"(?<=±) | (?=(?:cd/m2|K|%|points)(?!\w))", _JOIN, tied)
    for text in (tied, cell):
        lines = textwrap.wrap(text, width, break_long_words=False, break_on_hyphens=False)
        if all(len(line) <= width for line in lines):
            return [line.replace(_JOIN, " ") for line in lines]
    lines = [""]
    for piece in _PIECE.findall(cell):
        if len(lines[-1] + piece) <= width:
            lines[-1] += piece
        else:
            own = piece.strip()
            lines += [own[start : start + width] for start in range(0, len(own), width)]
    return [line for line in lines if line]


def grouped(pairs: Iterable[tuple[Key, Item]]) -> dict[Key, list[Item]]:
    """Each key once, in the order they came, with all that it came with."""
    found: dict[Key, list[Item]] = {}
    for key, item in pairs:
        found.setdefault(key, []).append(item)
    return found


def by_reason(pairs: Iterable[tuple[str, str]]) -> Iterable[tuple[str, list[str]]]:
    """Reasons, each once, with all that it holds for; what has none is left out."""
    return grouped((why, what) for why, what in pairs if why).items()


def point_of(block: str) -> str:
    """The point of a sweep that a block is of, by its name; "" without a sweep."""
    return block.rpartition("/")[0]


def at_points(text: str, points: Sequence[str], every: int) -> str:
    """``text`` with the points of a sweep that it holds for; ``every``: how many the sweep has."""
    known = [point for point in points if point]
    where = f"all {every} points" if len(known) == every > 1 else some(known)
    return f"{text} (at {where})" if known else text


def some(words: Sequence[str], most: int = 6) -> str:
    """The first few by name, the rest by number."""
    rest = len(words) - most
    return "; ".join(words[:most]) + (f"; and {rest} more" if rest > 0 else "")
