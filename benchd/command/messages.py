"""Messages to stderr: sentences, and one line that is rewritten.

There need be no reader. A message that can't be written (stderr closed, its reader gone, its disk full)
is lost, and so are those after it; the run itself goes on.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from shutil import get_terminal_size
from typing import TextIO


def rewrites() -> bool:
    """True when stderr is a terminal on which a line can be rewritten."""
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


def coloured(stream: TextIO) -> bool:
    """True when ``stream`` is a terminal with colours and nobody has set ``NO_COLOR`` (method after no-color.org)."""
    return stream.isatty() and os.environ.get("TERM") != "dumb" and not os.environ.get("NO_COLOR")


class _Screen:
    drawn = False
    """True while the last line of the terminal is one that is to be rewritten."""


def say(text: str, end: str = "\n") -> None:
    """A sentence on a line of its own, in place of a line that was drawn."""
    if not text.isprintable():
        from benchd.report.words import printable  # for several lines, or a name that would upset the terminal

        text = printable(text, "\n")
    if sys.stderr.isatty():
        text = _wrapped(text)
    erase = "\r\x1b[K" if _Screen.drawn else ""
    _Screen.drawn = False
    _write(f"{erase}{text}{end}")


def heed(cautions: Iterable[str]) -> None:
    """What the operator should heed."""
    from benchd.report.words import caution_text

    for caution in cautions:
        say(caution_text(caution))


_COPIED = r"(?<=: )(?:benchd |/).*$|`[^`]*`"
"""A command or a path that is to be copied: it stands on a line of its own rather than in parts."""


def _wrapped(text: str) -> str:
    """``text`` in lines of the terminal's width, broken at blanks."""
    width = get_terminal_size().columns
    lines = text.split("\n")
    if max(map(len, lines)) <= width:
        return text
    import re

    from benchd.report.words import one_word, wrapped

    rows = (wrapped(re.sub(_COPIED, lambda found: one_word(found[0]), line), width, "", "  ") or [""] for line in lines)
    return "\n".join(row for several in rows for row in several)


def prompt(text: str) -> None:
    """A question, with the cursor behind it for the answer."""
    say(text, end="   > ")


def draw(line: str) -> None:
    """``line`` in place of the one drawn before. For a terminal only."""
    _write(f"\r\x1b[K{line}")
    _Screen.drawn = True


def _write(text: str) -> None:
    try:
        sys.stderr.write(text)
        sys.stderr.flush()
    except OSError:
        nowhere(sys.stderr.fileno())


def nowhere(descriptor: int) -> None:
    """From here on, what is written to ``descriptor`` is thrown away, what waits in its buffer too."""
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, descriptor)
    os.close(null)
