"""Who has access. Over the Unix socket: the owner, identified by the kernel. Over loopback: who has the token.

The token travels as ``Authorization: Bearer``. There is no cookie: a browser sends the cookies of 127.0.0.1 to
every port of it, so another local server would be handed them; and what a browser adds by itself is what
cross-site requests live on. The page gets the token in the fragment of its link, which is never sent.
"""

from __future__ import annotations

import hmac
import os
import re
import secrets
import socket
import stat
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from benchd.daemon.http.http_read import Head, RequestRefused
from benchd.daemon.job_control import NotPossible

TOKEN_BYTES = 32
_TOKEN = re.compile(r"[A-Za-z0-9_-]{43}")  # 32 bytes in URL-safe base64 without padding
_BEARER = re.compile(r"[Bb]earer +([A-Za-z0-9._~+/=-]{1,200})")


class AccessCheck(Protocol):
    """Decides about a connection and about each request, before its body is read. Raises `RequestRefused`."""

    def greet(self, connection: socket.socket) -> None:
        """Look at who connected."""

    def admit(self, head: Head, public: bool) -> None:
        """Look at a request; ``public`` ones (the page's own files) need no token."""


@dataclass(frozen=True, slots=True)
class OwnerAccess:
    """The Unix socket: only processes of the user ``uid``; no token."""

    uid: int

    def greet(self, connection: socket.socket) -> None:
        size = struct.calcsize("3i")
        _, uid, _ = struct.unpack("3i", connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, size))
        if uid != self.uid:
            raise RequestRefused(403, "this socket serves only the user who started the service", close=True)

    def admit(self, head: Head, public: bool) -> None:
        # A browser can't reach a Unix socket by itself; one that does was put in front of it.
        if "origin" in head.fields or "sec-fetch-site" in head.fields:
            raise RequestRefused(403, "requests of web pages are not taken on this socket; use the page's own address")


class TokenAccess:
    """The loopback port: our own name as Host, our own page or a script as origin, and the token."""

    def __init__(self, port: int, token: str) -> None:
        self._hosts = (f"127.0.0.1:{port}", f"localhost:{port}")
        self._token = token

    def greet(self, connection: socket.socket) -> None:
        """Everybody on this machine may connect; each request is looked at."""

    def admit(self, head: Head, public: bool) -> None:
        if (host := head.fields.get("host", "").lower()) not in self._hosts:
            # A foreign name that leads to 127.0.0.1: DNS rebinding.
            raise RequestRefused(403, f"the header Host must be {self._hosts[0]}", close=True)
        if head.fields.get("origin", f"http://{host}").lower() != f"http://{host}":
            raise RequestRefused(403, "requests of another web site are refused", close=True)
        # "none": typed or opened from a bookmark; right for the page, never for what acts.
        sites = ("same-origin", "none") if head.method == "GET" else ("same-origin",)
        if head.fields.get("sec-fetch-site", "same-origin").lower() not in sites:
            raise RequestRefused(403, "requests of another web site are refused", close=True)
        if public:
            return
        given = _BEARER.fullmatch(head.fields.get("authorization", ""))
        if given is None or not hmac.compare_digest(given[1].encode(), self._token.encode()):
            raise RequestRefused(
                401,
                "the token is missing or wrong; send 'Authorization: Bearer TOKEN' with the token of the token file",
                headers={"WWW-Authenticate": 'Bearer realm="benchd"'},
            )


def load_token(path: Path) -> str:
    """The token in ``path``, made there (mode 0600) when there is none.

    Raises `NotPossible` when others could read it, or when it is no token of ours.
    """
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    except FileExistsError:
        return _read_token(path)  # or the folder is a file: then reading it reports the error
    except OSError as error:
        raise NotPossible(f"the token file {path} can't be written: {reason(error)}") from None
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with os.fdopen(descriptor, "w") as file:
        file.write(f"{token}\n")
        file.flush()
        os.fsync(file.fileno())
    return token


def _read_token(path: Path) -> str:
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK)
    except OSError as error:
        raise NotPossible(f"the token file {path} can't be read: {reason(error)}") from None
    with os.fdopen(descriptor, "rb") as file:
        found = os.fstat(file.fileno())
        if not stat.S_ISREG(found.st_mode) or found.st_uid != os.getuid() or found.st_mode & 0o077:
            raise NotPossible(f"the token file {path} must be yours alone; remove it and start again, or chmod 600 it")
        text = file.read(200).decode("ascii", "replace").strip()
    if not _TOKEN.fullmatch(text):
        raise NotPossible(f"{path} holds no token; remove it, and the next start makes a new one")
    return text


def reason(error: OSError) -> str:
    """The system's words."""
    return (error.strerror or "unknown reason").lower()
