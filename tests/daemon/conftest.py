"""A fake desk with its doors open, and a client that speaks raw bytes."""

from __future__ import annotations

import http.client
import json
import socket
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from benchd.daemon.http import listener
from benchd.daemon.http.doors import Servers, start_servers
from benchd.daemon.http.http_read import Patience
from tests.daemon.fake_desk import FakeDesk

WITHIN_S = 60.0
"""What is awaited comes, and is not waited for longer than that takes; so this may be long."""
PATIENT = Patience(head_s=WITHIN_S, body_s=WITHIN_S, idle_s=WITHIN_S, send_s=WITHIN_S)
"""Clients of this process may be kept waiting by a loaded machine, which is no fault of theirs."""


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back."""

    status: int
    headers: dict[str, str]  # names in lower case
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass(frozen=True, slots=True)
class House:
    """Open doors, and how to knock."""

    desk: FakeDesk
    servers: Servers
    token: str

    @property
    def port(self) -> int:
        return int(self.servers.http_url.rstrip("/").rpartition(":")[2])

    def ask(self, method: str, path: str, body: object = None, **headers: str) -> Reply:
        """Over loopback, with the token and the right Host unless ``headers`` say otherwise ("" leaves one out)."""
        told = {"authorization": f"Bearer {self.token}"} | {
            name.replace("_", "-"): value for name, value in headers.items()
        }
        data = body if isinstance(body, bytes) or body is None else json.dumps(body).encode()
        if data is not None:
            told = {"content-type": "application/json"} | told
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=WITHIN_S)
        try:
            connection.request(method, path, data, {name: value for name, value in told.items() if value})
            answer = connection.getresponse()
            return Reply(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def unix(self) -> socket.socket:
        """A connection to the Unix socket."""
        made = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        made.settimeout(WITHIN_S)
        made.connect(str(self.servers.socket_path))
        return made

    def tcp(self) -> socket.socket:
        """A connection to the loopback port."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=WITHIN_S)

    def raw(self, data: bytes) -> bytes:
        """Everything that the Unix socket answers to these bytes until it closes (or falls silent)."""
        with self.unix() as connection:
            connection.sendall(data)
            return everything(connection)


def everything(connection: socket.socket) -> bytes:
    """What comes until the other side closes; fails when that takes longer than the socket's time."""
    parts = []
    while part := connection.recv(65536):
        parts.append(part)
    return b"".join(parts)


@contextmanager
def open_house(folder: Path, patience: Patience = PATIENT) -> Iterator[House]:
    """A house in ``folder``, closed at the end."""
    desk = FakeDesk()
    token_file = folder / "token"
    with start_servers(desk, folder / "run" / "lab-2.sock", 0, token_file, patience) as servers:
        yield House(desk, servers, token_file.read_text().strip())


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[House]:
    """With all patience."""
    monkeypatch.setattr(listener, "LINGER_S", WITHIN_S)
    with open_house(tmp_path) as opened:
        yield opened


@pytest.fixture
def house_with(tmp_path: Path) -> Iterator[Callable[..., House]]:
    """Opens a house that has all patience but for what is told: ``house_with(head_s=0.4)``."""
    with ExitStack() as stack:
        yield lambda **told: stack.enter_context(open_house(tmp_path, replace(PATIENT, **told)))
