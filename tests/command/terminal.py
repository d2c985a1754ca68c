"""benchd on a pseudo-terminal, as a person sits before it: what it prints, and what is typed when."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from tests.command.conftest import environment

WITHIN_S = 300.0


def in_a_line(text: str) -> str:
    """What a terminal shows in lines of its width, with one space for each gap."""
    return " ".join(text.split())


def at_terminal(folder: Path, words: Sequence[str], typed: Sequence[tuple[str, str]] = ()) -> tuple[int, str]:
    """Exit code and everything printed; each ``(prompt, keys)`` types the keys once the prompt has come."""
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        ["setsid", "--ctty", "--wait", sys.executable, "-m", "benchd", *words],
        cwd=folder,
        env=environment(folder),
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        start_new_session=True,
    ) as process:
        os.close(theirs)
        try:
            text = _talk(ours, list(typed))
        finally:
            os.close(ours)  # hangs up on a process that still runs
            code = process.wait(WITHIN_S)
    return code, text


def _talk(terminal: int, typed: list[tuple[str, str]]) -> str:
    text, seen, limit = "", 0, time.monotonic() + WITHIN_S
    while time.monotonic() < limit:
        if not select.select([terminal], [], [], 0.1)[0]:
            continue
        try:
            more = os.read(terminal, 65536).decode(errors="replace")
        except OSError:  # the last one that held the terminal is gone
            return text
        if not more:
            return text
        text += more
        if typed and typed[0][0] in text[seen:]:
            seen = len(text)
            os.write(terminal, typed.pop(0)[1].encode())
    raise AssertionError(f"no end after {WITHIN_S:g} s: {text[-500:]}")
