"""The service as a process: its life (locks, queue, doors, loop; in that order, and back), its log, its signals.

Its own log goes to stderr. SIGTERM and Ctrl-C are a call from a thread of its own: a signal handler that took a lock
could wait for the very thread that it interrupted; so the handler does nothing, and the signal's number comes through a
pipe to a thread that may wait.
"""

from __future__ import annotations

import json
import logging
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Literal

from benchd import interrupt
from benchd.clock import wall_label
from benchd.daemon.folders import ServiceLocks, places
from benchd.daemon.hooks import Hooks
from benchd.daemon.http.doors import start_servers
from benchd.daemon.notify import Notifier
from benchd.daemon.queue import Queue
from benchd.daemon.service import Service
from benchd.exits import Exit
from benchd.local_time import local_time
from benchd.profile import profile_store as library
from benchd.run.job import bench_job

NAMES = {signal.SIGTERM: "SIGTERM", signal.SIGINT: "Ctrl-C"}


@contextmanager
def on_signals(tell: Callable[[str], None]) -> Iterator[None]:
    """Call ``tell`` with the name of every such signal. For the main thread."""
    readable, writable = os.pipe2(os.O_CLOEXEC | os.O_NONBLOCK)
    os.set_blocking(readable, True)
    before = {number: signal.signal(number, _nothing) for number in NAMES}
    before_fd = signal.set_wakeup_fd(writable, warn_on_full_buffer=False)
    thread = threading.Thread(target=_listen, args=(readable, tell), name="signals", daemon=True)
    thread.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before_fd)
        for number, handler in before.items():
            signal.signal(number, handler)
        os.close(writable)
        thread.join()
        os.close(readable)


def _listen(readable: int, tell: Callable[[str], None]) -> None:
    while number := os.read(readable, 1):
        if name := NAMES.get(signal.Signals(number[0])):
            tell(name)


def _nothing(number: int, frame: FrameType | None) -> None:
    """A handler must be there, or the signal would end the process."""


def set_up(form: Literal["json", "text"], level: str) -> None:
    """From here on, what `benchd.service` logs goes to stderr, and so do warnings of others."""
    # A reader of stderr that went away must not stop a run, nor fill stderr with complaints about itself.
    logging.raiseExceptions = False
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Json() if form == "json" else _Text())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger("benchd").setLevel(level.upper())


class _Json(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        line = {"wall": wall_label(), "level": record.levelname.lower(), "event": record.getMessage(), **_facts(record)}
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


class _Text(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        facts = "  ".join(f"{name}: {value}" for name, value in _facts(record).items() if value not in ("", None))
        wall = local_time(wall_label(), "%H:%M:%S")
        line = f"{wall} {record.levelname.lower():7} {record.getMessage()}"
        trace = f"\n{self.formatException(record.exc_info)}" if record.exc_info else ""
        return (f"{line}  {facts}" if facts else line) + trace


def _facts(record: logging.LogRecord) -> Mapping[str, object]:
    facts = getattr(record, "facts", {})
    return facts if isinstance(facts, Mapping) else {}


logger = logging.getLogger("benchd.service")


@dataclass(frozen=True, slots=True)
class ServiceOptions:
    """What the operator sets for a service."""

    bench: str
    folder: str | None = None
    library: str | None = None
    socket: str | None = None
    http_port: int | None = None
    on_event: Sequence[str] = ()
    webhook: str = ""


@contextmanager
def _page_link(path: Path, link: str) -> Iterator[None]:
    """Keep the link where only its owner can read it: it holds the token, so the log must not."""
    path.unlink(missing_ok=True)
    with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC, 0o600), "w") as out:
        out.write(f"{link}\n")
    try:
        yield
    finally:
        path.unlink(missing_ok=True)


def serve(wishes: ServiceOptions) -> None:
    """Be the service until SIGTERM, Ctrl-C or `benchd stop`; the queue stays on disk.

    Raises `InputError` for a bench that is faulty, and a `BenchdError` when the service can't begin.
    """
    profile = str(library.find("benches", wishes.bench).absolute())
    where = places(bench_job(profile).bench.bench, wishes.folder, wishes.library)
    hooks = Hooks(wishes.on_event, wishes.webhook)
    notifier = Notifier.from_environment()
    with ExitStack() as held:
        held.callback(ServiceLocks(where).release)
        service = Service(profile, where, Queue(where.queue), hooks=hooks, notifier=notifier)
        held.enter_context(on_signals(service.stop))
        interrupt.on_ctrl_c("", Exit.COMPLETE)  # after the service, there is nothing more to stop
        socket = Path(wishes.socket) if wishes.socket else where.socket
        servers = held.enter_context(start_servers(service, socket, wishes.http_port, where.token))
        facts = {
            "bench": where.bench,
            "folder": str(where.folder),
            "logs": str(where.logs),
            "socket": str(socket),
            "page": servers.http_url,
        }
        if servers.http_url:
            held.enter_context(_page_link(where.page_link, servers.page_link))
            facts["link"] = f"in {where.page_link}"
        logger.info("service ready", extra={"facts": facts})
        notifier.ready()
        service.run_forever()
    logger.info("service ended", extra={"facts": {"bench": where.bench}})
