"""Opens and closes the two ways into the service: the Unix socket and, with --http, a loopback port.

Answers come from other threads than the sequencer's; all that they reach is the `JobControl`.
"""

from __future__ import annotations

import errno
import fcntl
import os
import socket
import stat
from contextlib import ExitStack
from pathlib import Path

from benchd.daemon.http.auth import OwnerAccess, TokenAccess, load_token, reason
from benchd.daemon.http.exchange import Latest, Subscribers
from benchd.daemon.http.http_read import Patience
from benchd.daemon.http.listener import Listener
from benchd.daemon.job_control import JobControl, NotPossible

LOOPBACK = "127.0.0.1"
PATH_BYTES = 107  # what the kernel takes as the address of a Unix socket
WAITING = 128


class Servers:
    """The open doors. A context manager; `close` may be called twice."""

    def __init__(self, held: ExitStack, socket_path: Path, port: int, token: str) -> None:
        self.socket_path = socket_path
        self.http_url = f"http://{LOOPBACK}:{port}/" if port else ""
        self.page_link = f"{self.http_url}#{token}" if port else ""
        """The link that opens the page with its token, for the operator's eyes only; "" without a port."""
        self.close = held.close
        """Ends every connection, takes the socket's file away, gives the lock free."""

    def __enter__(self) -> Servers:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def start_servers(
    job_control: JobControl,
    socket_path: Path,
    http_port: int | None,
    token_file: Path,
    patience: Patience | None = None,
) -> Servers:
    """Begin to answer on ``socket_path`` and, unless ``http_port`` is None, on that port of 127.0.0.1 (0: any free).

    Raises `NotPossible` when another service holds the socket or the port, or a file is not ours alone.
    """
    patience = patience or Patience()
    latest, subscribers = Latest(job_control), Subscribers(patience.subscribers)
    with ExitStack() as opened:
        own = _owner_socket(socket_path, opened)
        listeners = [Listener(own, OwnerAccess(os.getuid()), latest, subscribers, patience)]
        port, token = 0, ""
        if http_port is not None:
            token = load_token(token_file)
            loopback = opened.enter_context(_loopback_socket(http_port))
            port = loopback.getsockname()[1]
            listeners.append(Listener(loopback, TokenAccess(port, token), latest, subscribers, patience))
        for listener in listeners:
            opened.callback(listener.close)
            listener.start()
        return Servers(opened.pop_all(), socket_path, port, token)


def _owner_socket(path: Path, opened: ExitStack) -> socket.socket:
    """A listening socket at ``path`` (mode 0600 in a folder of mode 0700), its lock and its removal in ``opened``."""
    if len(os.fsencode(path)) > PATH_BYTES:
        raise NotPossible(
            f"the path of the socket is too long ({PATH_BYTES} bytes at most): {path}; name a shorter one with --socket"
        )
    try:
        _private_folder(path.parent)
        lock = os.open(f"{path}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
    except OSError as error:
        raise NotPossible(f"the socket {path} can't be made: {reason(error)}") from None
    # The lock file stays when we go: removing it would let two services lock two files of one name.
    opened.callback(os.close, lock)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise NotPossible(f"another service answers on {path}; use that one, or stop it with: benchd stop") from None
    try:
        _clear_stale(path)
        listening = opened.enter_context(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM))
        listening.bind(os.fspath(path))
        opened.callback(path.unlink, missing_ok=True)
        path.chmod(0o600)  # no access before this: the folder is private
        listening.listen(WAITING)
    except OSError as error:
        raise NotPossible(f"the socket {path} can't be made: {reason(error)}") from None
    return listening


def _private_folder(folder: Path) -> None:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid() or found.st_mode & 0o077:
        raise NotPossible(f"the folder {folder} must be yours alone (chmod 700), or name another one for the socket")


def _clear_stale(path: Path) -> None:
    """Remove the socket that a killed service left; the lock shows that none runs."""
    try:
        found = path.lstat()
    except FileNotFoundError:
        return
    if not stat.S_ISSOCK(found.st_mode):
        raise NotPossible(f"{path} is there and is no socket; move it away or name another path")
    path.unlink()


def _loopback_socket(port: int) -> socket.socket:
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((LOOPBACK, port))
        listening.listen(WAITING)
    except (OSError, OverflowError) as error:
        listening.close()
        taken = isinstance(error, OSError) and error.errno == errno.EADDRINUSE
        why = "another program uses it" if taken else "it can't be opened"
        raise NotPossible(f"port {port} of {LOOPBACK}: {why}; name another one, or 0 for any free one") from None
    return listening
