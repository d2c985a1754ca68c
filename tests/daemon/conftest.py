"""A fake desk with its doors open, and a client that speaks raw bytes."""

from __future__ import annotations

import http.client
import json
import socket
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from benchd.daemon.api import Servers, start_servers
from benchd.daemon.http_read import Patience
from tests.daemon.fake_desk import FakeDesk

SHORT = Patience(head_s=0.4, body_s=0.5, idle_s=1.0, send_s=0.5, silence_s=0.3, connections=12, subscribers=3)
"""So that tests of slow clients are quick."""


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
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
        try:
            connection.request(method, path, data, {name: value for name, value in told.items() if value})
            answer = connection.getresponse()
            return Reply(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def unix(self) -> socket.socket:
        """A connection to the Unix socket."""
        made = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        made.settimeout(5)
        made.connect(str(self.servers.socket_path))
        return made

    def tcp(self) -> socket.socket:
        """A connection to the loopback port."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=5)

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


def open_house(folder: Path, patience: Patience | None = None) -> Iterator[House]:
    """A house in ``folder``, closed at the end."""
    desk = FakeDesk()
    token_file = folder / "token"
    with start_servers(desk, folder / "run" / "lab-2.sock", 0, token_file, patience) as servers:
        yield House(desk, servers, token_file.read_text().strip())


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    """With the patience of real life."""
    yield from open_house(tmp_path)


@pytest.fixture
def hasty(tmp_path: Path) -> Iterator[House]:
    """With little patience and few places."""
    yield from open_house(tmp_path, SHORT)
