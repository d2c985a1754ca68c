"""Answers on the wire: status line, the headers that every answer carries, body."""

from __future__ import annotations

import socket
from collections.abc import Mapping
from dataclasses import dataclass, field
from http import HTTPStatus

from benchd.daemon.http.schemas import Refusal, WireFault
from benchd.daemon.http.wire_json import encode

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
