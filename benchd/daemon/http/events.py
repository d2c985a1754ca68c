"""The event stream: the newest snapshot, whenever there is a newer one (server-sent events, WHATWG HTML).

There is no queue for a subscriber, so none can grow: a slow one misses moments, never the present state,
and is dropped when it does not take an event in time.
"""

from __future__ import annotations

import socket
import threading
from contextlib import suppress

from benchd.clock import Deadline
from benchd.daemon.http.http_read import Patience, RequestRefused
from benchd.daemon.http.wire_json import encode
from benchd.daemon.job_control import JobControl, Snapshot

SLICE_S = 0.5  # so often a stream looks whether its client is still there and whether the service ends
AT_MOST_EVERY_S = 0.1  # a simulated bench changes a thousand times a second, too fast to be seen


class Latest:
    """Snapshots as JSON, each encoded once for any number of clients. Safe from any thread."""

    def __init__(self, desk: JobControl) -> None:
        self.desk = desk
        self._lock = threading.Lock()
        self._last: tuple[Snapshot, bytes] | None = None

    def now(self) -> bytes:
        """The present snapshot as JSON."""
        return self.encoded(self.desk.snapshot())

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
    snapshot = latest.desk.snapshot()
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
            snapshot = latest.desk.wait_for_change(seen, min(SLICE_S, max(silent.left_s, 0.01)))
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
