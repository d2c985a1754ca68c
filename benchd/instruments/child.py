"""A child process that answers one JSON line to each JSON line, matched by a number that each carries.

Matching by number, never by order: an answer that comes late is recognised and thrown away. The child's
stdin closes when this process ends in whatever way, which is the child's sign to end too.
"""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from enum import Enum, auto
from typing import IO, Any

from benchd.clock import Deadline

_MAX_LINE = 1 << 20
_ERRORS_KEPT = 4096
_END_WITHIN_S = 2.0


class ChildTrouble(Enum):
    """What is wrong with a child's answer."""

    GONE = auto()
    SILENT = auto()
    HALF = auto()
    GARBLED = auto()


class ChildFailed(Exception):
    """No answer; ``str(error)`` is a sentence that begins with the command."""

    def __init__(self, trouble: ChildTrouble, text: str, *, sent: bytes = b"", received: bytes = b"") -> None:
        self.trouble, self.sent, self.received = trouble, sent, received
        super().__init__(text)


class Child:
    """One child process. ``key`` names the number in questions and answers. Raises `ChildFailed`.

    A first word ``python`` means the interpreter that runs this.
    """

    def __init__(self, command: Sequence[str], *, key: str = "id") -> None:
        self.name, self._key = " ".join(command), key
        self._number = 0
        self._buffer = self._errors = b""
        words = [sys.executable, *command[1:]] if command[0] == "python" else list(command)
        try:
            # A session of its own: Ctrl-C at the terminal pauses the run, and must not end the child first.
            self._process = subprocess.Popen(
                words,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                bufsize=0,
                start_new_session=True,
            )
        except OSError as error:
            raise ChildFailed(
                ChildTrouble.GONE, f"'{self.name}' can't be started ({error.strerror}); correct the command"
            ) from None
        self._stdin, self._stdout, self._stderr = (pipe.fileno() for pipe in _pipes(self._process))
        for descriptor in (self._stdin, self._stdout, self._stderr):
            os.set_blocking(descriptor, False)

    def ask(self, op: str, fields: Mapping[str, object], deadline: Deadline) -> dict[str, Any]:
        """Send ``{key: number, "op": op, **fields}`` and return the answer that carries the same number."""
        self._number += 1
        question = json.dumps({self._key: self._number, "op": op, **fields}, separators=(",", ":"), allow_nan=False)
        sent = question.encode("ascii") + b"\n"
        self._write(sent, deadline)
        while True:
            line = self._read_line(sent, deadline)
            answer = self._parsed(line, sent)
            number = answer.get(self._key)
            if number == self._number and type(number) is int:
                return answer
            if type(number) is int and 0 < number < self._number:
                continue  # the answer to a question that was given up
            raise self._failed(
                ChildTrouble.GARBLED,
                f"answered {line.decode(errors='replace')[:200]!r}, where {self._key!r} should be {self._number}",
                sent,
                line,
            )

    def close(self) -> None:
        """Close the child's stdin, give it time to end, then kill it; never raises."""
        stdin, stdout, stderr = _pipes(self._process)
        with suppress(OSError):
            stdin.close()
        try:
            self._process.wait(timeout=_END_WITHIN_S)
        except subprocess.TimeoutExpired:
            with suppress(OSError):
                os.killpg(self._process.pid, signal.SIGKILL)  # with what it started itself
            self._process.wait()
        stdout.close()
        stderr.close()

    def _write(self, data: bytes, deadline: Deadline) -> None:
        left = data
        while left:
            _, writable, _ = select.select([], [self._stdin], [], deadline.left_s)
            if not writable:
                raise self._failed(ChildTrouble.SILENT, "does not take a question from its stdin", data)
            try:
                left = left[os.write(self._stdin, left) :]
            except OSError:  # a broken pipe: it has ended
                raise self._gone(data) from None

    def _read_line(self, sent: bytes, deadline: Deadline) -> bytes:
        sources = [self._stdout, self._stderr]
        while True:
            line, end, rest = self._buffer.partition(b"\n")
            if len(line) > _MAX_LINE:
                self._buffer = b""
                raise self._failed(ChildTrouble.GARBLED, f"sent {len(line)} bytes without a line end", sent, line[:200])
            if end:
                self._buffer = rest
                return line
            readable, _, _ = select.select(sources, [], [], deadline.left_s)
            if self._stderr in readable and not self._take_errors():
                sources.remove(self._stderr)
            if self._stdout in readable:
                more = os.read(self._stdout, 65536)
                if not more:
                    raise self._gone(sent)
                self._buffer += more
            elif deadline.passed:
                what = sent.decode().strip()
                if self._buffer:
                    text = f"began an answer to {what} and did not end it in time ({self._buffer[:80]!r})"
                    raise self._failed(ChildTrouble.HALF, text, sent, self._buffer)
                raise self._failed(ChildTrouble.SILENT, f"did not answer {what} in time", sent)

    def _parsed(self, line: bytes, sent: bytes) -> dict[str, Any]:
        try:
            answer = json.loads(line, parse_constant=_refuse_constant)
        except (ValueError, RecursionError):
            answer = None
        if not isinstance(answer, dict):
            shown = line.decode(errors="replace")[:200]
            text = f"wrote {shown!r} to its stdout, which is no JSON object; all else belongs on stderr"
            raise self._failed(ChildTrouble.GARBLED, text, sent, line)
        return answer

    def _take_errors(self) -> bool:
        """Keep the end of what is on stderr now; False at its end."""
        with suppress(BlockingIOError):
            more = os.read(self._stderr, 65536)
            self._errors = (self._errors + more)[-_ERRORS_KEPT:]
            return bool(more)
        return True

    def _gone(self, sent: bytes) -> ChildFailed:
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(timeout=_END_WITHIN_S)
        code = self._process.poll()
        while select.select([self._stderr], [], [], 0.0)[0] and self._take_errors():
            pass
        how = "closed its stdout" if code is None else f"ended with exit status {code}"
        return self._failed(ChildTrouble.GONE, how, sent, self._buffer)

    def _failed(self, trouble: ChildTrouble, what: str, sent: bytes, received: bytes = b"") -> ChildFailed:
        last = self._errors.decode(errors="replace").strip().splitlines()[-3:]
        said = f"; its output: {' / '.join(last)}" if last else ""
        return ChildFailed(trouble, f"'{self.name}' {what}{said}", sent=sent, received=received)


def _pipes(process: subprocess.Popen[bytes]) -> tuple[IO[bytes], IO[bytes], IO[bytes]]:
    assert process.stdin is not None
    assert process.stdout is not None
    assert process.stderr is not None
    return process.stdin, process.stdout, process.stderr


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")
