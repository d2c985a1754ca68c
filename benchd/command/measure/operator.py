"""Questions to the operator at the terminal: a prompt takes only the keys that it names, all else records nothing."""

from __future__ import annotations

import os
import select
import sys
import termios
from collections.abc import Sequence

from benchd.clock import Deadline, StopRequest
from benchd.command.messages import say

ENTER, PAUSE, AGAIN = "", "p", "r"
"""What is typed before Enter."""
LOOK_EVERY_S = 0.1
MAX_SHOWN = 20


def no_operator() -> bool:
    """True when there is no terminal to prompt at."""
    return not (sys.stdin.isatty() and sys.stderr.isatty())


def wait_for_operator(sentence: str) -> bool:
    """Prompt until Enter (true), or p and Enter, Ctrl-C or the end of the input (false: the operator stops here)."""
    try:
        question = f"{sentence}. Press Enter when it is done, or type p and Enter to stop here."
        return key_for(question, (ENTER, PAUSE)) == ENTER
    except KeyboardInterrupt:
        return False


def key_for(
    question: str, keys: Sequence[str], stop: StopRequest | None = None, within_s: float | None = None
) -> str | None:
    """Which of ``keys`` the operator types; any other is answered with a sentence, and the question stands.

    ``PAUSE`` at the end of the input and when ``stop`` is set; None when ``within_s`` is over.
    """
    termios.tcflush(sys.stdin, termios.TCIFLUSH)  # an Enter too many must not answer this question
    say(question)
    limit = None if within_s is None else Deadline.after(within_s)
    while stop is None or not stop.asked:
        if limit is not None and limit.passed:
            return None
        if not select.select([sys.stdin], [], [], LOOK_EVERY_S)[0]:
            continue
        typed = os.read(sys.stdin.fileno(), 1 << 16)  # a whole line; empty: the end of the input
        if not typed:
            return PAUSE
        key = typed.decode(errors="replace").rstrip("\r\n")
        if key.lower() in keys:
            return key.lower()
        termios.tcflush(sys.stdin, termios.TCIFLUSH)  # nor must the rest of what was typed or pasted
        named = ", ".join(one or "Enter" for one in keys)
        shown = key if len(key) <= MAX_SHOWN else f"{key[:MAX_SHOWN]}…"
        say(f"{shown!r} is none of {named}. Nothing was recorded.")
    return PAUSE
