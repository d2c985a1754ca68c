"""SIGTERM and Ctrl-C as a call from a thread of its own.

A handler that took a lock could wait for the very thread that it interrupted; so the handler does nothing,
and the signal's number comes through a pipe to a thread that may wait.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

NAMES = {signal.SIGTERM: "SIGTERM", signal.SIGINT: "Ctrl-C"}


@contextmanager
def on_signals(tell: Callable[[str], None]) -> Iterator[None]:
    """Call ``tell`` with the name of every such signal. For the main thread."""
    readable, writable = os.pipe2(os.O_CLOEXEC | os.O_NONBLOCK)
    os.set_blocking(readable, True)
    before = {number: signal.signal(number, _nothing) for number in NAMES}
    before_fd = signal.set_wakeup_fd(writable, warn_on_full_buffer=False)
    thread = threading.Thread(target=_listen, args=(readable, tell), name="signals", daemon=True)
    thread.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before_fd)
        for number, handler in before.items():
            signal.signal(number, handler)
        os.close(writable)
        thread.join()
        os.close(readable)


def _listen(readable: int, tell: Callable[[str], None]) -> None:
    while number := os.read(readable, 1):
        name = NAMES.get(signal.Signals(number[0]))
        if name:
            tell(name)


def _nothing(number: int, frame: FrameType | None) -> None:
    """A handler must be there, or the signal would end the process."""
