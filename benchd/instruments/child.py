"""A child process that answers one JSON line to each JSON line, matched by a number that each carries.

Matching by number, never by order: an answer that comes late is recognised and thrown away. The child's
stdin closes when this process ends in whatever way, which is the child's sign to end too.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from enum import Enum, auto
from typing import Any

from benchd.clock import Deadline
from benchd.pipes import LineChild, LineTooLong, end_process

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
    """One child process. ``key`` names the number in questions and answers. Raises `ChildFailed`."""

    def __init__(self, command: Sequence[str], *, key: str = "id") -> None:
        self.name, self._key = " ".join(command), key
        self._number = 0
        try:
            self._child = LineChild(command)
        except OSError as error:
            text = (
                f"'{self.name}' can't be started ({(error.strerror or 'unknown reason').lower()}); correct the command"
            )
            raise ChildFailed(ChildTrouble.GONE, text) from None

    def ask(self, op: str, fields: Mapping[str, object], deadline: Deadline) -> dict[str, Any]:
        """Send ``{key: number, "op": op, **fields}`` and return the answer that carries the same number."""
        self._number += 1
        question = json.dumps({self._key: self._number, "op": op, **fields}, separators=(",", ":"), allow_nan=False)
        sent = question.encode("ascii") + b"\n"
        try:
            if not self._child.send(sent, deadline):
                raise self._failed(ChildTrouble.SILENT, "does not take a question from its stdin", sent)
        except OSError:  # a broken pipe: it has ended
            raise self._gone(sent) from None
        while True:
            line = self._read_line(sent, deadline)
            answer = self._parsed(line, sent)
            number = answer.get(self._key)
            if number == self._number and type(number) is int:
                return answer
            if type(number) is int and 0 < number < self._number:
                continue  # the answer to a question that was given up
            text = f"answered {line.decode(errors='replace')[:200]!r}, where {self._key!r} should be {self._number}"
            raise self._failed(ChildTrouble.GARBLED, text, sent, line)

    def close(self) -> None:
        """Close the child's stdin, give it time to end, then kill it; never raises."""
        end_process(self._child.process, _END_WITHIN_S)

    def _read_line(self, sent: bytes, deadline: Deadline) -> bytes:
        try:
            line = self._child.receive(deadline)
        except EOFError:
            raise self._gone(sent) from None
        except LineTooLong as error:
            raise self._failed(ChildTrouble.GARBLED, f"sent {error} without a line end", sent) from None
        if line is not None:
            return line
        what, begun = sent.decode().strip(), bytes(self._child.buffer.rest)
        if begun:
            text = f"began an answer to {what} and did not end it in time ({begun[:80]!r})"
            raise self._failed(ChildTrouble.HALF, text, sent, begun)
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

    def _gone(self, sent: bytes) -> ChildFailed:
        code = self._child.ending(_END_WITHIN_S)
        how = "closed its stdout" if code is None else f"ended with exit status {code}"
        return self._failed(ChildTrouble.GONE, how, sent, bytes(self._child.buffer.rest))

    def _failed(self, trouble: ChildTrouble, what: str, sent: bytes, received: bytes = b"") -> ChildFailed:
        last = self._child.errors()[-3:]
        said = f"; its output: {' / '.join(last)}" if last else ""
        return ChildFailed(trouble, f"'{self.name}' {what}{said}", sent=sent, received=received)


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")
