"""Texts for a terminal: paragraphs, lists and tables of a help text, wrapped at its width.

What is understood is the little of Markdown that a help topic needs: headings, paragraphs, lists, tables of few
columns, fenced blocks. Lines that are indented outside of a list stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

LEAST_WIDTH = 30
"""Columns below which nothing is wrapped more narrowly."""
MOST_OF_A_LINE = 0.6
"""Share of a line that a table's first columns may take; where they take more, its last column goes below them."""
_ITEM = re.compile(r"(?:[-*]|[0-9]+\.) ")
_COLUMNS = re.compile(r" +\S+  +(?=\S)")
_FENCE = "```"


def rendered(text: str, width: int) -> str:
    """``text`` for a terminal of so many columns."""
    lines = [line for block in _blocks(text.splitlines()) for line in _shown(block, max(width, LEAST_WIDTH))]
    return "\n".join(lines).rstrip() + "\n"


def _blocks(lines: Sequence[str]) -> Iterator[list[str]]:
    """Paragraphs, list items, headings, tables, fenced blocks; and an empty line by itself."""
    block: list[str] = []
    fenced = False
    for line in lines:
        begins = not line.strip() or line.startswith((_FENCE, "#")) or _ITEM.match(line) or _is_other(block, line)
        if block and begins and not fenced:
            yield block
            block = []
        block.append(line)
        fence = line.startswith(_FENCE)
        fenced ^= fence
        if not fenced and (fence or not line.strip() or line.startswith("#")):
            yield block
            block = []
    if block:
        yield block


def _is_other(block: Sequence[str], line: str) -> bool:
    """Does ``line`` begin something else: indented after a paragraph, or a paragraph after an indented line?"""
    if not block or not line.strip() or block[0].startswith((_FENCE, "|")) or _ITEM.match(block[0]):
        return False
    return block[0].startswith(" ") != line.startswith(" ")


def _shown(block: Sequence[str], width: int) -> list[str]:
    first = block[0]
    if first.startswith(_FENCE):
        return [f"    {line}".rstrip() for line in block[1:-1]]
    if first.startswith("|"):
        return _table(block, width)
    if not first.strip():
        return [""]
    if first.startswith("#"):
        heading = _wrapped(first.lstrip("# "), width, "")
        return [*heading, ("=" if first.startswith("# ") else "-") * max(map(len, heading))]
    if first.startswith(" "):
        return [part for line in block for part in _indented(line, width)]
    mark = _ITEM.match(first)
    hanging = " " * len(mark[0]) if mark else ""
    return _wrapped(" ".join(line.strip() for line in block), width, hanging)


def _indented(line: str, width: int) -> list[str]:
    """A line as it is; one that is too long and has two columns with the second wrapped."""
    columns = _COLUMNS.match(line)
    return [line] if len(line) <= width or not columns else _wrapped(line, width, " " * len(columns[0]))


def _table(block: Sequence[str], width: int) -> list[str]:
    """Rows with the last column wrapped."""
    rows = [[_plain(cell.strip()) for cell in re.split(r"(?<!\\)\|", row.strip("| "))] for row in block]
    rows = [row for row in rows if not all(set(cell) <= set("-: ") for cell in row)]
    rows = [[*(cell.replace("`", "") for cell in row[:-1]), row[-1]] for row in rows]
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]) - 1)]
    if sum(widths) + 2 * len(widths) > width * MOST_OF_A_LINE:
        return [line for row in rows[1:] for line in (*row[:-1], *_wrapped(f"    {row[-1]}", width, "    "))]
    lines = []
    for row in rows:
        head = "".join(f"{cell:<{size}}  " for cell, size in zip(row, widths, strict=False))
        lines += _wrapped(f"{head}{row[-1]}", width, " " * len(head))
    return lines


def _wrapped(text: str, width: int, hanging: str) -> list[str]:
    import textwrap  # for a help text only

    return textwrap.wrap(_plain(text), width, subsequent_indent=hanging, break_long_words=False, break_on_hyphens=False)


def _plain(text: str) -> str:
    """Without the signs of emphasis."""
    return text.replace("**", "").replace("\\|", "|")
