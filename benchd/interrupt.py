"""Ctrl-C from the first line of benchd on: one sentence and a documented exit status, whatever runs.

No exception is raised. Between any two instructions it could strike an import, a callback or the end of the
interpreter, where it is swallowed or leaves a traceback. The process ends at once instead, as by a kill: what is in a
log is safe, and children end with their input. Only what is half written is taken away (`Undo`).

Imports nothing but what each interpreter has from its beginning, so that no time passes before `install`.
"""

import os

# The part of `signal` that is written in C; the rest takes 7 ms to import.
from _signal import SIG_IGN, SIGINT, getsignal, signal  # type: ignore[import-not-found]

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import NoReturn

STOPPED = 130
"""The exit status, as shells have it for what Ctrl-C ended."""


class _Now:
    text = "Stopped by Ctrl-C. What is in a log is safe."
    code = STOPPED
    process = 0  # where it was installed: one that is forked from it ends without a word
    undo: "list[Callable[[], object]]" = []  # noqa: RUF012 - one for the process


def install() -> None:
    """Answer Ctrl-C from here on; where the process was begun without it (``nohup``, ``&`` in a script), nothing is."""
    _Now.process = os.getpid()
    if getsignal(SIGINT) != SIG_IGN:
        signal(SIGINT, end)


def on_ctrl_c(text: str, code: int = STOPPED) -> None:
    """From here on Ctrl-C says ``text`` (nothing where it is empty) and ends with ``code``."""
    _Now.text, _Now.code = text, code


def is_over() -> None:
    """The command has ended: what is left is the interpreter's own end, which Ctrl-C can't hasten."""
    signal(SIGINT, SIG_IGN)


class Undo:
    """While it lasts, Ctrl-C does ``action`` before the end: takes away a file that is half written."""

    def __init__(self, action: "Callable[[], object]") -> None:
        self._action = action

    def __enter__(self) -> None:
        _Now.undo.append(self._action)

    def __exit__(self, *exc_info: object) -> None:
        _Now.undo.remove(self._action)


def end(number: int = SIGINT, frame: object = None) -> "NoReturn":
    """End the process as Ctrl-C does it now. A signal handler."""
    signal(SIGINT, SIG_IGN)
    if os.getpid() == _Now.process:
        erase = "\r\x1b[K" if os.isatty(2) and os.environ.get("TERM") != "dumb" else ""
        for action in (lambda: os.write(2, f"{erase}{_Now.text}\n".encode()) if _Now.text else 0, *reversed(_Now.undo)):
            try:
                action()
            except BaseException:  # the end is near whatever fails
                continue
    os._exit(_Now.code)
