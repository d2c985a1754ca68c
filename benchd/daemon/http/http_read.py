"""One HTTP/1.1 request read from a socket, strictly and within a time (method after RFC 9112).

Only one reading of a request is taken: whatever two programs could read differently (two lengths, chunks,
folded lines, a bare line feed, blanks before a colon) is refused and the connection is closed. Every wait has
a deadline for the whole of what is awaited, so that a byte now and then blocks no other client.
"""

from __future__ import annotations

import re
import socket
from collections.abc import Mapping
from dataclasses import dataclass

from benchd.clock import Deadline

HEAD_BYTES = 16 * 1024
HEAD_LINES = 64
SENT_AT_ONCE = 64 * 1024

_TOKEN = r"[!#$%&'*+.^_`|~0-9A-Za-z-]+"
_FIRST = re.compile(rf"({_TOKEN}) (/[!-~]*) HTTP/1\.([01])")
_FIELD = re.compile(rf"({_TOKEN}):[ \t]*([^\x00-\x08\x0a-\x1f\x7f]*)")
_LENGTH = re.compile(r"[0-9]{1,10}")
_ONLY_ONCE = frozenset(
    {"host", "content-length", "content-type", "authorization", "origin", "expect", "last-event-id", "connection"}
)


@dataclass(frozen=True, slots=True)
class Patience:
    """How long a client may take, in seconds; and how many may be served at once by one listener."""

    head_s: float = 5.0  # for a whole head
    body_s: float = 15.0  # for a whole body
    idle_s: float = 30.0  # between two requests of one connection
    send_s: float = 10.0  # for one answer, or one event, to be taken
    silence_s: float = 15.0  # an event stream sends a sign of life at least so often
    connections: int = 64
    subscribers: int = 32  # event streams over all listeners


class RequestRefused(Exception):
    """A request that is answered with an error. ``close`` when what follows on the connection can't be trusted."""

    def __init__(self, status: int, text: str, *, close: bool = False, headers: Mapping[str, str] | None = None):
        self.status, self.text, self.close, self.headers = status, text, close, dict(headers or {})
        super().__init__(text)


class Gone(Exception):
    """The client left, or took too long where no answer is due."""


@dataclass(frozen=True, slots=True)
class Head:
    """The head of a request: names of ``fields`` in lower case, values without outer blanks."""

    method: str
    target: str  # path and query as sent
    fields: Mapping[str, str]
    length: int  # of the body, in bytes
    keep: bool  # the connection may be used again


class Incoming:
    """What comes in over one connection."""

    def __init__(self, connection: socket.socket, patience: Patience) -> None:
        self._socket, self._patience = connection, patience
        self._buffer = bytearray()
        self._first = True

    def head(self) -> Head:
        """The next head. Raises `RequestRefused`, or `Gone` when no further request comes."""
        if not self._buffer:
            # On a new connection the first byte is part of the head's time: silence is not idleness.
            wait_s = self._patience.head_s if self._first else self._patience.idle_s
            if not self._more(Deadline.after(wait_s)):
                raise Gone
        self._first = False
        deadline = Deadline.after(self._patience.head_s)
        while (end := self._buffer.find(b"\r\n\r\n")) < 0:
            if len(self._buffer) > HEAD_BYTES:
                break
            if not self._more(deadline):
                raise RequestRefused(408, "the head of the request did not come in time; send it at once", close=True)
        if end < 0 or end > HEAD_BYTES:
            raise RequestRefused(431, f"the head of the request has more than {HEAD_BYTES} bytes", close=True)
        text = bytes(self._buffer[:end]).decode("latin-1")
        del self._buffer[: end + 4]
        return parse_head(text)

    def body(self, length: int) -> bytes:
        """A body of ``length`` bytes. Raises `RequestRefused` when it does not come in time."""
        deadline = Deadline.after(self._patience.body_s)
        while len(self._buffer) < length:
            if not self._more(deadline):
                raise RequestRefused(408, "the body of the request did not come in time; send it at once", close=True)
        body = bytes(self._buffer[:length])
        del self._buffer[:length]
        return body

    def throw_away(self, most_bytes: int, seconds: float) -> None:
        """Take what still comes, so that the answer is not lost to a reset; bounded in bytes and time."""
        deadline = Deadline.after(seconds)
        self._buffer.clear()
        while most_bytes > 0 and self._more(deadline):
            most_bytes -= len(self._buffer)
            self._buffer.clear()

    def _more(self, deadline: Deadline) -> bool:
        """Read once; false when the client ended its side or the time is over."""
        if deadline.passed:
            return False
        self._socket.settimeout(max(deadline.left_s, 0.001))
        try:
            got = self._socket.recv(SENT_AT_ONCE)
        except OSError:  # a time-out is one, too
            return False
        self._buffer += got
        return bool(got)


def parse_head(text: str) -> Head:
    """The head in ``text`` (Latin-1, without the empty line at its end). Raises `RequestRefused`."""
    first, *lines = text.split("\r\n")
    if (asked := _FIRST.fullmatch(first)) is None:
        raise RequestRefused(400, "the first line is no request: METHOD /path HTTP/1.1 is expected", close=True)
    if len(lines) > HEAD_LINES:
        raise RequestRefused(431, f"the request has more than {HEAD_LINES} header lines", close=True)
    fields: dict[str, str] = {}
    for line in lines:
        if (found := _FIELD.fullmatch(line)) is None:
            raise RequestRefused(
                400, "a header line is malformed (folded, blank before the colon, control sign)", close=True
            )
        name, value = found[1].lower(), found[2].rstrip(" \t")
        if name in fields and name in _ONLY_ONCE:
            raise RequestRefused(400, f"the header {name} is there twice; send it once", close=True)
        fields[name] = f"{fields[name]}, {value}" if name in fields else value
    modern = asked[3] == "1"
    if modern and "host" not in fields:
        raise RequestRefused(400, "the header Host is missing", close=True)
    keep = modern and "close" not in fields.get("connection", "").lower()
    return Head(asked[1], asked[2], fields, _length(fields), keep)


def _length(fields: Mapping[str, str]) -> int:
    if "transfer-encoding" in fields:
        raise RequestRefused(400, "a body in chunks is not taken; send it with Content-Length", close=True)
    length = fields.get("content-length", "0")
    if not _LENGTH.fullmatch(length):
        raise RequestRefused(400, "Content-Length must be one whole number", close=True)
    return int(length)
