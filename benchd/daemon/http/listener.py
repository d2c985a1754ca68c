"""One listening socket: a thread that accepts, a thread for each connection, bounded in number and time.

A slow or silent client holds only its own thread, and that for a bounded time; each listener has its own
places, so that a crowd on the loopback port does not lock the owner out of the Unix socket.
"""

from __future__ import annotations

import logging
import socket
import threading
from contextlib import suppress

from benchd.clock import Deadline
from benchd.daemon.http import routes
from benchd.daemon.http.auth import AccessCheck
from benchd.daemon.http.exchange import Answer, Call, Latest, Route, Subscribers, refusal, send, stream
from benchd.daemon.http.http_read import Gone, Head, Incoming, Patience, RequestRefused
from benchd.daemon.http.wire_json import BODY_BYTES, WireFault
from benchd.daemon.job_control import NotPossible
from benchd.errors import BenchdError, InputError, ProfileError

LOGGER = logging.getLogger("benchd.daemon.http.doors")
LINGER_S = 1.0


class Listener:
    """Answers on ``listening``, which it owns, from `start` until `close`."""

    def __init__(
        self, listening: socket.socket, door: AccessCheck, latest: Latest, subscribers: Subscribers, patience: Patience
    ) -> None:
        self._listening, self._door, self._latest = listening, door, latest
        self._subscribers, self._patience = subscribers, patience
        self._stop = threading.Event()
        self._lock = threading.Condition()
        self._open: dict[socket.socket, bool] = {}  # connection -> an answer is being made
        self._thread = threading.Thread(target=self._accept, name="benchd-accept", daemon=True)
        self.start = self._thread.start
        """Begins to answer."""

    def close(self) -> None:
        """Take no more requests, let answers under way be sent (a second at most), end every connection."""
        self._stop.set()
        with suppress(OSError):
            self._listening.shutdown(socket.SHUT_RDWR)  # wakes the accepting thread
        self._thread.join(2.0)
        self._listening.close()
        deadline = Deadline.after(LINGER_S)
        with self._lock:
            self._hang_up(busy=False)
            while any(self._open.values()) and not deadline.passed:
                self._lock.wait(deadline.left_s)
            self._hang_up(busy=True)
            deadline = Deadline.after(LINGER_S)
            while self._open and not deadline.passed:
                self._lock.wait(deadline.left_s)

    def _hang_up(self, busy: bool) -> None:
        for connection, is_busy in self._open.items():
            if is_busy <= busy:
                with suppress(OSError):
                    connection.shutdown(socket.SHUT_RDWR)

    def _accept(self) -> None:
        while not self._stop.is_set():
            try:
                connection, _ = self._listening.accept()
            except OSError:
                # Out of file handles, or the end: the loop's head distinguishes them.
                self._stop.wait(0.05)
                continue
            with self._lock:
                if free := len(self._open) < self._patience.connections:
                    self._open[connection] = False
            if not free or not self._begin(connection):
                self._turn_away(connection)

    def _begin(self, connection: socket.socket) -> bool:
        try:
            threading.Thread(target=self._serve, args=(connection,), name="benchd-api", daemon=True).start()
        except RuntimeError:  # no more threads to be had
            with self._lock:
                self._open.pop(connection, None)
            return False
        return True

    def _turn_away(self, connection: socket.socket) -> None:
        text = "too many connections are open; close one and try again"
        with suppress(OSError), connection:
            send(connection, refusal(503, text, headers={"Retry-After": "2"}), keep=False, within_s=0.2)

    def _serve(self, connection: socket.socket) -> None:
        incoming = Incoming(connection, self._patience)
        try:
            while not self._stop.is_set() and self._one(connection, incoming):
                pass
        except (Gone, OSError):
            pass  # no client left
        finally:
            connection.close()
            with self._lock:
                self._open.pop(connection, None)
                self._lock.notify_all()

    def _one(self, connection: socket.socket, incoming: Incoming) -> bool:
        """One request and its answer; true when the connection may bring another."""
        keep, unread = False, True
        try:
            self._door.greet(connection)
            head = incoming.head()
            self._mark(connection, busy=True)
            route, params = self._let_in(head)
            if route.streams:
                self._stream(connection, head)
                return False
            if head.fields.get("expect", "").lower() == "100-continue":
                connection.settimeout(self._patience.send_s)
                connection.sendall(b"HTTP/1.1 100 Continue\r\n\r\n")
            call = Call(self._latest, params, incoming.body(head.length))
            keep, unread = head.keep and not self._stop.is_set(), False
            answer = _answer(route, call)
            LOGGER.debug("%s %s -> %d", head.method, head.target, answer.status)
        except RequestRefused as refused:
            LOGGER.info("refused (%d): %s", refused.status, refused.text)
            answer = refusal(refused.status, refused.text, headers=refused.headers)
        send(connection, answer, keep=keep, within_s=self._patience.send_s)
        self._mark(connection, busy=False)
        if unread:
            with suppress(OSError):
                connection.shutdown(socket.SHUT_WR)
                incoming.throw_away(2 * BODY_BYTES, LINGER_S)
        return keep

    def _let_in(self, head: Head) -> tuple[Route, dict[str, str]]:
        """The route, after every check that needs no body. Strangers learn nothing about addresses."""
        try:
            route, params = routes.find(head)
        except RequestRefused:
            self._door.admit(head, public=False)
            raise
        self._door.admit(head, route.public)
        routes.check(route, head)
        return route, dict(params)

    def _stream(self, connection: socket.socket, head: Head) -> None:
        with self._subscribers:
            self._mark(connection, busy=False)
            answer = Answer(200, None, "text/event-stream; charset=utf-8")
            send(connection, answer, keep=False, within_s=self._patience.send_s)
            stream(connection, self._latest, head.fields.get("last-event-id", ""), self._stop, self._patience)

    def _mark(self, connection: socket.socket, busy: bool) -> None:
        with self._lock:
            self._open[connection] = busy
            self._lock.notify_all()


def _answer(route: Route, call: Call) -> Answer:
    """What the route answers; every error as JSON, and an internal error without its details."""
    try:
        return route.handle(call)
    except RequestRefused as refused:
        return refusal(refused.status, refused.text, headers=refused.headers)
    except ProfileError as error:
        faults = tuple(WireFault(fault.file, fault.line, fault.column, fault.text) for fault in error.faults)
        count = f"{len(faults)} fault{'' if len(faults) == 1 else 's'}"
        return refusal(400, f"the plan has {count}; nothing was queued", faults=faults)
    except BenchdError as error:
        status = 400 if isinstance(error, InputError) else 409 if isinstance(error, NotPossible) else 503
        return refusal(status, str(error))
    except Exception as error:
        LOGGER.exception("%s %s failed", route.method, route.path)
        return refusal(500, f"internal error of the service ({type(error).__name__}); details are in its log")
