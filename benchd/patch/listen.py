"""The far machine's end of the link: waits for a run, makes sure who it is, and opens the window for it.

Connections that have not proved who they are wait side by side, each for its own few seconds, so that a stranger who
is silent does not block the window. One run at a time; a second one is refused. When the link ends, however it
ends, the window's input is closed: it shows black and is gone, and the next run gets a new one.
"""

from __future__ import annotations

import contextlib
import errno
import os
import select
import socket
import subprocess
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from benchd.clock import Deadline
from benchd.errors import InputError
from benchd.patch.far import BUSY, RemoteLink, hello_in, keep_alive, split_address
from benchd.patch.link import (
    HELLO_WITHIN_S,
    LONGEST_HELLO,
    VERSION,
    NotTrusted,
    Seal,
    is_hex,
    new_challenge,
    proof,
    same,
    session_key,
)
from benchd.patch.window_protocol import NotThisProtocol, decode, encode
from benchd.pipes import LineBuffer, LineTooLong, end_process

if TYPE_CHECKING:
    from _typeshed import HasFileno

WINDOW_ENDS_WITHIN_S = 3.0
MAX_GUESTS = 16
"""Connections that may wait to prove who they are; of more, the oldest has to go."""

Tell = Callable[[str], None]


class _Peer:
    """A connection that has not proved yet who it is."""

    def __init__(self, connection: socket.socket, where: str) -> None:
        self.connection, self.where = connection, where
        self.challenge, self.heard = new_challenge(), b""
        self.deadline = Deadline.after(HELLO_WITHIN_S)
        connection.settimeout(1.0)
        connection.sendall(encode({"benchd_window": VERSION, "challenge": self.challenge}))

    def hear(self) -> tuple[dict[str, object], bytes] | None:
        """Its greeting and what came behind it, once it is whole. Raises `NotTrusted` or `OSError`."""
        if not (data := self.connection.recv(LONGEST_HELLO)):
            raise NotTrusted("the other machine closed the connection before it was known")
        self.heard += data
        return hello_in(self.heard)


class Listener:
    """Waits at an address and serves one run after another."""

    def __init__(self, address: str, secret: bytes, command: Sequence[str], signal: str | None, tell: Tell) -> None:
        """``command``: the window's; ``signal``: what its cable carries, where the operator states it.

        Raises `InputError` when listening at ``address`` is not possible.
        """
        host, port = split_address(address)
        self._secret, self._command, self._signal, self._tell = secret, list(command), signal, tell
        try:
            family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
            self._socket = socket.create_server((host, port), family=family)
        except OSError as error:
            raise InputError(
                f"listening at {address} is not possible ({_why(error)}); give an address of this machine and a "
                "free port"
            ) from None
        self.close = self._socket.close
        """Waits no longer."""

    @property
    def port(self) -> int:
        """The port that it really waits at."""
        return int(self._socket.getsockname()[1])

    def run(self) -> None:
        """Serve run after run, until interrupted. Raises `OSError` once it is closed."""
        while True:
            link, where = self._known()
            with contextlib.closing(link):
                self._tell(f"a run at {where} has the window")
                try:
                    self._tell(self._serve_window(link, where))
                except OSError as error:
                    self._tell(
                        f"the link to {where} was lost ({error.strerror or error}); the window is black and closed"
                    )

    def _known(self) -> tuple[RemoteLink, str]:
        """Wait for a run that proves who it is, and where it is."""
        guests: list[_Peer] = []
        try:
            while True:
                left_s = min((guest.deadline.left_s for guest in guests), default=None)
                ready = _ready([self._socket, *(guest.connection for guest in guests)], left_s)
                for guest in [*guests]:
                    try:
                        link = self._introduced(guest) if guest.connection in ready else None
                        if link is None and guest.deadline.passed:
                            raise NotTrusted("the other machine did not introduce itself in time")
                    except (NotTrusted, OSError) as error:
                        guests.remove(guest)
                        self._turn_away(guest, str(error))
                        continue
                    if link is not None:
                        guests.remove(guest)
                        return link, guest.where
                if self._socket in ready:
                    self._welcome(guests)
        finally:
            for guest in guests:
                self._turn_away(guest, "another run has the window", BUSY)

    def _welcome(self, guests: list[_Peer]) -> None:
        connection, address = self._socket.accept()
        where = str(address[0])
        try:
            guests.append(_Peer(connection, where))
        except OSError as error:
            connection.close()
            self._tell(f"turned {where} away: {error}")
        if len(guests) > MAX_GUESTS:
            self._turn_away(guests.pop(0), "too many wait, and it has waited longest")

    def _turn_away(self, guest: _Peer, why: str, refusal: str = "") -> None:
        with guest.connection, contextlib.suppress(OSError):
            if refusal:
                guest.connection.sendall(encode({"refused": refusal}))
        self._tell(f"turned {guest.where} away: {why}")

    def _introduced(self, guest: _Peer) -> RemoteLink | None:
        """The link to an authenticated peer; None when its greeting is not complete yet."""
        if (heard := guest.hear()) is None:
            return None
        answer, rest = heard
        theirs, own, connection = answer.get("challenge"), guest.challenge, guest.connection
        if not is_hex(theirs) or not same(answer.get("proof"), proof(self._secret, "run", own, str(theirs))):
            refused = "this run does not have the secret of the token file here; copy the file again"
            connection.sendall(encode({"refused": refused}))
            raise NotTrusted("it does not have the secret of the token file")
        connection.sendall(encode({"proof": proof(self._secret, "window", str(theirs), own)}))
        keep_alive(connection)
        return RemoteLink(connection, Seal(session_key(self._secret, own, str(theirs)), is_run=False), rest)

    def _serve_window(self, link: RemoteLink, where: str) -> str:
        """Carry lines between the run and a new window; returns how it ended."""
        window = subprocess.Popen(
            self._command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0, start_new_session=True
        )
        assert window.stdin is not None
        assert window.stdout is not None
        answers = LineBuffer()
        try:
            while True:
                ready = _ready((link, window.stdout, self._socket), 0.0 if link.early else None)
                if self._socket in ready:
                    self._refuse_another()
                if window.stdout in ready:
                    if not (data := os.read(window.stdout.fileno(), 1 << 16)):
                        return f"the window closed by itself; the run at {where} was notified"
                    for line in answers.feed(data):
                        link.send(self._with_signal(line))
                if link in ready or link.early:
                    if (lines := link.receive()) is None:
                        return f"the run at {where} let go; the window is black and closed"
                    for line in lines:
                        window.stdin.write(line + b"\n")
        except (NotTrusted, LineTooLong) as error:
            return f"the link to {where} was cut: {error}; the window is black and closed"
        except BrokenPipeError:
            return f"the window closed by itself; the run at {where} was notified"
        finally:
            end_process(window, WINDOW_ENDS_WITHIN_S)  # black, then gone

    def _with_signal(self, line: bytes) -> bytes:
        """The window's line; in its identity, the signal that the operator of this machine states for its cable."""
        if self._signal is None or b'"identity"' not in line:
            return line
        try:
            message = decode(line)
            message["identity"] |= {"signal": self._signal, "signal_by": "declared by the operator of the far machine"}
        except (NotThisProtocol, KeyError, TypeError):
            return line
        return encode(message).rstrip(b"\n")

    def _refuse_another(self) -> None:
        connection, where = self._socket.accept()
        with connection:
            connection.settimeout(1.0)
            try:
                connection.sendall(encode({"refused": BUSY}))
            except OSError:
                return
            self._tell(f"turned {where[0]} away: another run has the window")


def _ready(ends: Sequence[HasFileno], left_s: float | None) -> list[HasFileno]:
    """Those at which there is something to read or take; none once the time is over.

    Raises `OSError` when one of them was closed by another thread meanwhile.
    """
    try:
        return select.select(ends, [], [], left_s)[0]
    except ValueError:
        raise OSError(errno.EBADF, os.strerror(errno.EBADF)) from None


def _why(error: OSError) -> str:
    """The system's words alone: the library adds the address once more."""
    return os.strerror(error.errno).lower() if error.errno and error.errno > 0 else str(error.strerror or error).lower()
