"""A question to whoever stands at the bench, where a command needs a hand between two runs."""

from __future__ import annotations

import os
import sys
import termios

from benchd.command.messages import say


def nobody_there() -> bool:
    """True when there is no terminal to ask at."""
    return not (sys.stdin.isatty() and sys.stderr.isatty())


def wait_for_hand(sentence: str) -> bool:
    """Ask until Enter (true), or p and Enter, Ctrl-C or the end of the input (false: the operator stops here)."""
    termios.tcflush(sys.stdin, termios.TCIFLUSH)  # an Enter too many must not answer this question
    say(f"{sentence}. Press Enter when it is done, or type p and Enter to stop here.")
    try:
        answer = os.read(sys.stdin.fileno(), 1024)
    except KeyboardInterrupt:
        return False
    return bool(answer) and not answer.strip().lower().startswith(b"p")
