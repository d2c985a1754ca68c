"""The run's end of a link to a window on another machine: a process with the window protocol on its pipes.

    python -m benchd.patch.far --connect HOST:PORT --token-file FILE

So the daemon has one kind of window: a child process that can be killed when it hangs. When the link is lost this
process reports it and ends, and the run treats it as any window that is gone.
"""

from __future__ import annotations

import argparse
import os
import select
import socket
import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from benchd.clock import Deadline
from benchd.errors import InputError, ScreenLost
from benchd.patch.link import (
    HELLO_WITHIN_S,
    LONGEST_HELLO,
    VERSION,
    NotTrusted,
    Seal,
    is_hex,
    new_challenge,
    proof,
    read_secret,
    same,
    session_key,
)
from benchd.patch.window_loop import Answers, leave_with_parent, refuse
from benchd.patch.window_protocol import NotThisProtocol, decode, encode
from benchd.pipes import LineBuffer, LineTooLong

CONNECTS_WITHIN_S = 5.0
BUSY = "busy"
RETRY_FOR_S, RETRY_EVERY_S = 12.0, 1.0
"""A far machine needs a while to detect that an earlier link is dead."""


def far_command(address: str, token_file: str) -> list[str]:
    """The command of a window at ``address`` (HOST:PORT) on another machine."""
    return [sys.executable, "-m", "benchd.patch.far", "--connect", address, "--token-file", token_file]


def split_address(address: str) -> tuple[str, int]:
    """``host:port`` or ``[::1]:port`` as host and port. Raises `InputError`."""
    host, colon, port = address.rpartition(":")
    if not colon or not host or not port.isdigit() or not 0 <= int(port) <= 65535:
        raise InputError(f"{address!r} is no address; write HOST:PORT, such as 192.0.2.7:4850 or [::1]:4850")
    return host.removeprefix("[").removesuffix("]"), int(port)


class RemoteLink:
    """A connection on which both sides are known."""

    def __init__(self, connection: socket.socket, seal: Seal, rest: bytes) -> None:
        self._connection, self._seal = connection, seal
        self.fileno, self.close = connection.fileno, connection.close
        self._buffer = LineBuffer()
        self.early = self._buffer.feed(rest)
        """Lines that came together with the greeting."""

    def send(self, line: bytes) -> None:
        """One line, without its line end. Raises `OSError`."""
        self._connection.sendall(self._seal.sealed(line))

    def receive(self) -> list[bytes] | None:
        """The lines that came; None at the end. Raises `NotTrusted`, `LineTooLong` or `OSError`."""
        lines, self.early = self.early, []
        if not lines:
            if not (data := self._connection.recv(1 << 16)):
                return None
            lines = self._buffer.feed(data)
        return [self._seal.opened(line) for line in lines]


def keep_alive(connection: socket.socket, send_within_s: float = 10.0) -> None:
    """Detect within a quarter of a minute that the other machine or the cable between is gone."""
    connection.settimeout(send_within_s)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in (("TCP_KEEPIDLE", 5), ("TCP_KEEPINTVL", 3), ("TCP_KEEPCNT", 3), ("TCP_USER_TIMEOUT", 14_000)):
        if hasattr(socket, name):
            connection.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)


def hello_in(heard: bytes) -> tuple[dict[str, object], bytes] | None:
    """The greeting that was ``heard``, as an object, and what came behind it; None before its end.

    Raises `NotTrusted`.
    """
    line, end, rest = heard.partition(b"\n")
    if len(line) > LONGEST_HELLO:
        raise NotTrusted("the other machine does not use this protocol")
    if not end:
        return None
    try:
        return decode(line), rest
    except NotThisProtocol:
        raise NotTrusted("the other machine does not use this protocol") from None


def receive_hello(connection: socket.socket, deadline: Deadline) -> tuple[dict[str, object], bytes]:
    """One short line before both sides are known, as an object, and what came behind it. Raises `NotTrusted`."""
    heard = b""
    while True:
        connection.settimeout(max(deadline.left_s, 0.001))
        try:
            data = connection.recv(LONGEST_HELLO)
        except TimeoutError:
            raise NotTrusted("the other machine did not introduce itself in time") from None
        if not data:
            raise NotTrusted("the other machine closed the connection before it was known")
        heard += data
        if (found := hello_in(heard)) is not None:
            return found


def connect(address: str, secret: bytes) -> RemoteLink:
    """A link to the window at ``address``. Raises `ScreenLost` with the reason."""
    host, port = split_address(address)
    waited_s = 0.0
    while True:
        try:
            connection = socket.create_connection((host, port), CONNECTS_WITHIN_S)
        except OSError as error:
            raise ScreenLost(
                f"no window answers at {address} ({error.strerror or error}); start `benchd window --listen` there"
            ) from None
        try:
            return _introduced(connection, address, secret)
        except (NotTrusted, OSError) as error:
            connection.close()
            if str(error) != BUSY:
                raise ScreenLost(f"the window at {address} is not used: {error}") from None
            if waited_s >= RETRY_FOR_S:
                raise ScreenLost(f"the window at {address} serves another run; end that one, or wait for it") from None
        select.select([], [], [], RETRY_EVERY_S)
        waited_s += RETRY_EVERY_S


def _introduced(connection: socket.socket, address: str, secret: bytes) -> RemoteLink:
    deadline = Deadline.after(HELLO_WITHIN_S)
    hello, rest = receive_hello(connection, deadline)
    if "refused" in hello:
        raise NotTrusted(str(hello["refused"])[:200])
    theirs = hello.get("challenge")
    if hello.get("benchd_window") != VERSION or not is_hex(theirs):
        raise NotTrusted("it uses another version of the link; use the same benchd on both machines")
    own = new_challenge()
    connection.sendall(encode({"challenge": own, "proof": proof(secret, "run", str(theirs), own)}))
    answer, rest = receive_hello(connection, deadline) if b"\n" not in rest else ({}, rest)
    if "refused" in answer:
        raise NotTrusted(str(answer["refused"])[:200])
    if not same(answer.get("proof"), proof(secret, "window", own, str(theirs))):
        raise NotTrusted("it does not have the secret of the token file; copy the file from that machine again")
    keep_alive(connection)
    return RemoteLink(connection, Seal(session_key(secret, str(theirs), own), is_run=True), rest)


def relay(link: RemoteLink, answers: Answers, address: str) -> int:
    """Carry questions and answers until either side ends. Returns the exit code."""
    questions = LineBuffer()
    lost = f"the link to the window at {address} was lost"
    while True:
        ready, _, _ = select.select([0, link.fileno()], [], [], 0.0 if link.early else None)
        try:
            if link.fileno() in ready or link.early:
                if (lines := link.receive()) is None:
                    answers.send({"event": "display_lost", "text": f"{lost}: the other machine closed it"})
                    return 1
                for line in lines:
                    answers.send(decode(line))
            if 0 in ready:
                if not (data := os.read(0, 1 << 16)):
                    return 0
                for line in questions.feed(data):
                    link.send(line)
        except (OSError, NotTrusted, LineTooLong, NotThisProtocol) as error:
            if isinstance(error, BrokenPipeError):
                return 0
            answers.send({"event": "display_lost", "text": f"{lost}: {getattr(error, 'strerror', None) or error}"})
            return 1


def main(arguments: Sequence[str] | None = None) -> int:
    """The process. Returns its exit code."""
    parser = argparse.ArgumentParser(prog="benchd.patch.far", description=__doc__)
    parser.add_argument("--connect", required=True, metavar="HOST:PORT", help="where `benchd window --listen` waits")
    parser.add_argument("--token-file", required=True, type=Path, help="the secret that both machines share")
    chosen = parser.parse_args(arguments)
    leave_with_parent()
    answers = Answers()
    try:
        try:
            link = connect(chosen.connect, read_secret(chosen.token_file))
        except InputError as error:
            return refuse(ScreenLost(str(error)), 0, answers)
        except ScreenLost as error:
            return refuse(error, 0, answers)
        with closing(link):
            return relay(link, answers, chosen.connect)
    except BrokenPipeError:
        return 0


if __name__ == "__main__":
    raise SystemExit(main())
