"""The life of a service: locks, queue, doors, loop; in that order, and back."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from benchd.daemon.folders import ServiceLocks, places
from benchd.daemon.hooks import Hooks
from benchd.daemon.http.doors import start_servers
from benchd.daemon.notify import Notifier
from benchd.daemon.queue import Queue
from benchd.daemon.service import Service
from benchd.daemon.signals import on_signals
from benchd.profile import profile_store as library
from benchd.run.job import bench_job

logger = logging.getLogger("benchd.service")


@dataclass(frozen=True, slots=True)
class ServiceOptions:
    """What the operator sets for a service."""

    bench: str
    folder: str | None = None
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
    where = places(bench_job(profile).bench.bench, wishes.folder)
    hooks = Hooks(wishes.on_event, wishes.webhook)
    notifier = Notifier.from_environment()
    with ExitStack() as held:
        held.callback(ServiceLocks(where).release)
        service = Service(profile, where, Queue(where.queue), hooks=hooks, notifier=notifier)
        held.enter_context(on_signals(service.stop))
        socket = Path(wishes.socket) if wishes.socket else where.socket
        servers = held.enter_context(start_servers(service, socket, wishes.http_port, where.token))
        facts = {"bench": where.bench, "folder": str(where.folder), "socket": str(socket), "page": servers.http_url}
        if servers.http_url:
            held.enter_context(_page_link(where.page_link, servers.page_link))
            facts["link"] = f"in {where.page_link}"
        logger.info("service ready", extra={"facts": facts})
        notifier.ready()
        service.run_forever()
    logger.info("service ended", extra={"facts": {"bench": where.bench}})
