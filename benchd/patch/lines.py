"""JSON lines over a pipe: cut at the line end, bounded, never blocking past a deadline; and the end of a child."""

from __future__ import annotations

import os
import select
import subprocess

from benchd.clock import Deadline

LONGEST_LINE = 1 << 20
"""Bytes. A line that grows beyond this is no message of ours."""


class LineTooLong(ValueError):
    """More than `LONGEST_LINE` bytes came without a line end."""


class LineBuffer:
    """Bytes in, whole lines out (without their line end); the rest waits for more."""

    def __init__(self) -> None:
        self._rest = bytearray()

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that ``data`` completes. Raises `LineTooLong`."""
        self._rest += data
        *lines, rest = bytes(self._rest).split(b"\n")
        if len(rest) > LONGEST_LINE or any(len(line) > LONGEST_LINE for line in lines):
            self._rest.clear()
            raise LineTooLong(f"a line of more than {LONGEST_LINE} bytes")
        self._rest[:] = rest
        return lines


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
    """End a child by closing its stdin; one that does not end is killed."""
    if process.stdin is not None:
        process.stdin.close()
    try:
        process.wait(within_s)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    if process.stdout is not None:  # not before its end: a window could die of a lost reader before it is black
        process.stdout.close()
