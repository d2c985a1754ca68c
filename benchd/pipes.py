"""Lines over pipes: cut at the line end, bounded, never blocking past a deadline; and the child process behind them."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from collections import deque
from collections.abc import Mapping, Sequence
from contextlib import suppress

from benchd.clock import Deadline

LONGEST_LINE = 1 << 20
"""Bytes. A line that grows beyond this is no message of ours."""
ERRORS_KEPT = 4096
"""Bytes of a child's standard error: its end."""


class LineTooLong(ValueError):
    """More than `LONGEST_LINE` bytes came without a line end."""


class LineBuffer:
    """Bytes in, whole lines out (without their line end); the rest waits for more."""

    def __init__(self) -> None:
        self.rest = bytearray()

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that ``data`` completes. Raises `LineTooLong`."""
        self.rest += data
        *lines, rest = bytes(self.rest).split(b"\n")
        if len(rest) > LONGEST_LINE or any(len(line) > LONGEST_LINE for line in lines):
            self.rest.clear()
            raise LineTooLong(f"a line of more than {LONGEST_LINE} bytes")
        self.rest[:] = rest
        return lines


class LineChild:
    """A child process that is spoken to in lines. Raises `OSError` when it can't be started.

    Its session is its own: Ctrl-C at the terminal is for the run to answer, and must not end the child first. A first
    word ``python`` means the interpreter that runs this.
    """

    def __init__(self, command: Sequence[str], environment: Mapping[str, str] | None = None) -> None:
        words = [sys.executable, *command[1:]] if command[0] == "python" else list(command)
        self.process = subprocess.Popen(
            words,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env=None if environment is None else dict(environment),
            bufsize=0,
            start_new_session=True,
        )
        pipes = (self.process.stdin, self.process.stdout, self.process.stderr)
        self._stdin, self._stdout, self._stderr = (pipe.fileno() for pipe in pipes if pipe is not None)
        for descriptor in (self._stdin, self._stdout, self._stderr):
            os.set_blocking(descriptor, False)
        self.buffer, self._lines = LineBuffer(), deque[bytes]()
        self._errors = b""

    def send(self, data: bytes, deadline: Deadline) -> bool:
        """Write ``data``; false when the child does not take it in time. Raises `BrokenPipeError` when it has ended."""
        return write_all(self._stdin, data, deadline)

    def receive(self, deadline: Deadline) -> bytes | None:
        """The next line; None at the deadline. Raises `EOFError` when no more will come, and `LineTooLong`."""
        sources = [self._stdout, self._stderr]
        while not self._lines:
            readable, _, _ = select.select(sources, [], [], deadline.left_s)
            if self._stderr in readable and not self._keep_errors():
                sources.remove(self._stderr)
            if self._stdout in readable:
                if not (data := os.read(self._stdout, 1 << 16)):
                    raise EOFError
                self._lines.extend(self.buffer.feed(data))
            elif deadline.passed:
                return None
        return self._lines.popleft()

    def ending(self, within_s: float) -> int | None:
        """Its exit status, or the signal's number as a negative one; None when it has not ended within that time."""
        with suppress(subprocess.TimeoutExpired):
            self.process.wait(within_s)
        return self.process.poll()

    def errors(self) -> list[str]:
        """The last lines that it wrote to its standard error."""
        while select.select([self._stderr], [], [], 0.0)[0] and self._keep_errors():
            pass
        return self._errors.decode(errors="replace").strip().splitlines()

    def _keep_errors(self) -> bool:
        """Keep the end of what is on stderr now; False at its end."""
        more = os.read(self._stderr, 1 << 16)
        self._errors = (self._errors + more)[-ERRORS_KEPT:]
        return bool(more)


def read_some(fd: int, deadline: Deadline) -> bytes | None:
    """What has come by ``deadline``: bytes, b"" at the end of the stream, None when nothing came."""
    ready, _, _ = select.select([fd], [], [], deadline.left_s)
    return os.read(fd, 1 << 16) if ready else None


def write_all(fd: int, data: bytes, deadline: Deadline) -> bool:
    """Write ``data`` to the non-blocking ``fd``; false when the reader did not take it all by ``deadline``.

    Raises `BrokenPipeError` without a reader.
    """
    view = memoryview(data)
    while view:
        _, ready, _ = select.select([], [fd], [], deadline.left_s)
        if not ready:
            return False
        try:
            view = view[os.write(fd, view) :]
        except BlockingIOError:
            continue
    return True


def end_process(process: subprocess.Popen[bytes], within_s: float) -> None:
    """End a child of its own session by closing its stdin; one that does not end is killed, with what it started."""
    if process.stdin is not None:
        process.stdin.close()
    try:
        process.wait(within_s)
    except subprocess.TimeoutExpired:
        with suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    for pipe in (process.stdout, process.stderr):  # not before its end: it could die of a lost reader
        if pipe is not None:
            pipe.close()
