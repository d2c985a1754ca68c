"""One thing that may be asked of the service, one request for it, its answer on the wire, and the event stream.

An answer is a status line, the headers that every answer carries, and a body. The event stream has the newest snapshot,
whenever there is a newer one (server-sent events, WHATWG HTML). There is no queue for a subscriber, so none can grow: a
slow one misses moments, never the present state, and is dropped when it does not take an event in time.
"""

from __future__ import annotations

import re
import socket
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from http import HTTPStatus

from benchd.clock import Deadline
from benchd.daemon.http.http_read import Patience, RequestRefused
from benchd.daemon.http.wire_json import Refusal, WireFault, encode
from benchd.daemon.job_control import JobControl, Snapshot

SLICE_S = 0.5  # so often a stream looks whether its client is still there and whether the service ends
AT_MOST_EVERY_S = 0.1  # a simulated bench changes a thousand times a second, too fast to be seen


class Latest:
    """Snapshots as JSON, each encoded once for any number of clients. Safe from any thread."""

    def __init__(self, job_control: JobControl) -> None:
        self.job_control = job_control
        self._lock = threading.Lock()
        self._last: tuple[Snapshot, bytes] | None = None

    def now(self) -> bytes:
        """The present snapshot as JSON."""
        return self.encoded(self.job_control.snapshot())

    def encoded(self, snapshot: Snapshot) -> bytes:
        """``snapshot`` as JSON, in brief form."""
        with self._lock:
            if self._last is None or self._last[0] is not snapshot:
                self._last = (snapshot, encode(snapshot, brief=True))
            return self._last[1]


class Subscribers:
    """Counts the event streams, at most ``most`` at a time."""

    def __init__(self, most: int) -> None:
        self._places = threading.BoundedSemaphore(most)

    def __enter__(self) -> None:
        if not self._places.acquire(blocking=False):
            text = "too many event streams are open; close one, or poll /v1/status"
            raise RequestRefused(429, text, headers={"Retry-After": "10"})

    def __exit__(self, *_: object) -> None:
        self._places.release()


def stream(connection: socket.socket, latest: Latest, last_id: str, stop: threading.Event, patience: Patience) -> None:
    """Write events until the client leaves, is too slow, or the service ends.

    ``last_id`` is the number of the snapshot that the client saw last ("" for none): it is not sent again.
    """
    seen = int(last_id) if last_id.isascii() and last_id.isdigit() and len(last_id) < 19 else -1
    snapshot = latest.job_control.snapshot()
    # A number that is not the present one may be of an earlier life of the service: then the present is news.
    news = snapshot.number != seen
    seen = snapshot.number
    silent = Deadline.after(patience.silence_s)
    with suppress(OSError):
        connection.settimeout(patience.send_s)
        connection.sendall(b": benchd\nretry: 2000\n\n")
        while not stop.is_set() and not _left(connection):
            if news:
                connection.sendall(_event(snapshot.number, latest.encoded(snapshot)))
                silent = Deadline.after(patience.silence_s)
                stop.wait(AT_MOST_EVERY_S)
            elif silent.passed:
                connection.sendall(b": still here\n\n")
                silent = Deadline.after(patience.silence_s)
            snapshot = latest.job_control.wait_for_change(seen, min(SLICE_S, max(silent.left_s, 0.01)))
            news, seen = snapshot.number != seen, snapshot.number


def _event(number: int, data: bytes) -> bytes:
    return b"id: %d\nevent: snapshot\ndata: %s\n\n" % (number, data)


def _left(connection: socket.socket) -> bool:
    """True when the client closed its side (whatever it still sends is not read)."""
    patience_s = connection.gettimeout()
    connection.setblocking(False)  # a socket with a time limit would wait for it, whatever the flags say
    try:
        return not connection.recv(1, socket.MSG_PEEK)
    except BlockingIOError:
        return False
    finally:
        connection.settimeout(patience_s)


JSON = "application/json"

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""What the page may do: its own scripts, styles and requests, nothing from anywhere else."""

ALWAYS: Mapping[str, str] = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What goes back. ``body`` None: a stream follows, which ends with the connection."""

    status: int
    body: bytes | None
    content_type: str = JSON
    headers: Mapping[str, str] = field(default_factory=dict)


def refusal(
    status: int, text: str, *, faults: tuple[WireFault, ...] = (), headers: Mapping[str, str] | None = None
) -> Answer:
    """An error as JSON: one sentence, and the errors in a file where there are any."""
    return Answer(status, encode(Refusal(text, faults)), JSON, dict(headers or {}))


def send(connection: socket.socket, answer: Answer, *, keep: bool, within_s: float) -> None:
    """Write ``answer``; raises OSError when it is not taken in time (the limit is for the whole answer)."""
    lines = [f"HTTP/1.1 {answer.status} {HTTPStatus(answer.status).phrase}"]
    headers = {**ALWAYS, "Content-Type": answer.content_type, **answer.headers}
    if answer.body is not None:
        headers["Content-Length"] = str(len(answer.body))
    headers["Connection"] = "keep-alive" if keep and answer.body is not None else "close"
    lines += [f"{name}: {value}" for name, value in headers.items()]
    connection.settimeout(within_s)
    connection.sendall("\r\n".join([*lines, "", ""]).encode("latin-1") + (answer.body or b""))


@dataclass(frozen=True, slots=True)
class Call:
    """One accepted request: the job control, the parameters of the path, and the body."""

    latest: Latest
    params: Mapping[str, str]
    body: bytes


@dataclass(frozen=True, slots=True)
class Route:
    """One thing that may be asked. ``takes`` and ``gives`` name shapes of `shapes.definitions`; "" is none."""

    method: str
    path: str  # ``{id}`` stands for a job's id
    name: str
    summary: str
    handle: Callable[[Call], Answer]
    status: int = 200
    gives: str = ""
    gives_many: bool = False
    takes: str = ""
    errors: tuple[int, ...] = ()
    public: bool = False  # needs no token
    streams: bool = False
    pattern: re.Pattern[str] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "pattern", re.compile(re.escape(self.path).replace(r"\{id\}", "(?P<id>[^/]{1,200})")))
