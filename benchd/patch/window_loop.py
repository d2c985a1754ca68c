"""The window process without the window: its pipes, its end, and the loop that answers questions.

A `Surface` is what can be painted; `window.py` has the real one.
"""

from __future__ import annotations

import ctypes
import os
import select
import signal
import sys
from collections.abc import Sequence
from typing import Any, Protocol

from benchd.errors import ScreenError
from benchd.patch.screen import ScreenIdentity, Shown
from benchd.patch.window_protocol import (
    NotThisProtocol,
    ShowRequest,
    answer_message,
    decode,
    encode,
    failure_message,
    identity_message,
    read_show,
    word_for,
)
from benchd.pipes import LineBuffer, LineTooLong

PR_SET_PDEATHSIG = 1
EXIT_DISPLAY_LOST = 70


class Surface(Protocol):
    """Something that shows rectangles and has its place."""

    def identify(self) -> ScreenIdentity:
        """Which screen this is, read again."""

    def show(self, request: ShowRequest) -> Shown:
        """Paint, then read back. Raises a `ScreenError`."""

    def black(self) -> None:
        """Paint black."""

    def pump(self) -> str:
        """Handle the events of the window system; a sentence once the window must end, else ""."""

    def waits_on(self) -> tuple[Sequence[int], float]:
        """File descriptors of the window system's events, and after how many seconds to pump anyhow."""


class Answers:
    """The protocol's way out: the original standard output, which nothing else can write to any more."""

    def __init__(self) -> None:
        """Take descriptor 1 for ourselves; a stray print or a chatty driver goes to standard error."""
        sys.stdout.flush()
        self._fd = os.dup(1)
        os.dup2(2, 1)

    def send(self, message: dict[str, Any]) -> None:
        """One message; raises `BrokenPipeError` when the daemon is gone."""
        data = encode(message)
        while data:
            data = data[os.write(self._fd, data) :]


def leave_with_parent() -> None:
    """Arrange that this process ends with its parent, even while it is stuck in a hung display server.

    End of input is the ordinary way; this one needs no reader. On Linux only. The signal comes when
    the *thread* that started this process ends, so the daemon starts windows from a thread that lasts.
    """
    # Ctrl-C in a terminal reaches every process of the group; when to end is decided by the daemon.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, int(signal.SIGTERM), 0, 0, 0)


def serve(surface: Surface, questions: int, answers: Answers) -> int:
    """Answer questions from the descriptor ``questions`` until it ends. Returns the exit code."""
    buffer = LineBuffer()
    surface.black()
    while True:
        if ending := surface.pump():
            surface.black()
            answers.send({"event": "closed", "text": ending})
            return 1
        descriptors, pause_s = surface.waits_on()
        ready, _, _ = select.select([questions, *descriptors], [], [], pause_s)
        if questions not in ready:
            continue
        if not (data := os.read(questions, 1 << 16)):
            surface.black()
            return 0
        try:
            lines = buffer.feed(data)
        except LineTooLong as error:
            surface.black()
            answers.send(failure_message(0, "refused", str(error)))
            continue
        for line in lines:
            answers.send(_answer(surface, line))


def refuse(error: ScreenError, questions: int, answers: Answers) -> int:
    """Without a window: answer every question with why there is none. Returns the exit code."""
    buffer = LineBuffer()
    while data := os.read(questions, 1 << 16):
        for line in buffer.feed(data):
            answers.send(failure_message(_seq(decode(line)), word_for(error), str(error)))
    return 1


def _answer(surface: Surface, line: bytes) -> dict[str, Any]:
    seq = 0
    try:
        message = decode(line)
        seq = _seq(message)
        match message.get("op"):
            case "hello":
                return identity_message(seq, surface.identify())
            case "show":
                return answer_message(seq, surface.show(read_show(message)))
            case other:
                raise NotThisProtocol(f"there is no op {other!r:.40}; known: hello, show")
    except NotThisProtocol as error:
        surface.black()
        return failure_message(seq, "refused", str(error))
    except ScreenError as error:
        surface.black()
        return failure_message(seq, word_for(error), str(error))


def _seq(message: dict[str, Any]) -> int:
    seq = message.get("seq")
    if not isinstance(seq, int) or isinstance(seq, bool):
        raise NotThisProtocol("seq must be a whole number")
    return seq
