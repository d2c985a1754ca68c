"""Where a service keeps what: its folder with the queue, its socket, its locks; and the library with its logs."""

from __future__ import annotations

import fcntl
import os
from dataclasses import dataclass
from pathlib import Path

from benchd.clock import file_stamp
from benchd.errors import BenchdError, InputError
from benchd.instruments.hold import make_private, private_folder
from benchd.user_folders import LIBRARY_VARIABLE, library_folder, sample_folder, state_folder

SOCKET_VARIABLE = "BENCHD_SOCKET"
SOCKET_SUFFIX = ".sock"


class ServiceRuns(BenchdError):
    """Another service has this bench or this folder."""


class NoPlace(BenchdError):
    """The folder of the service can't be used; that may pass, as when a disk is not mounted yet."""


@dataclass(frozen=True, slots=True)
class Places:
    """The paths of one service."""

    bench: str
    folder: Path

    queue: Path  # a file for each job
    logs: Path  # the library, with a folder for each sample
    token: Path  # what a browser must show
    page_link: Path  # opens the page with its token, while a service has one; for its owner alone
    socket: Path  # where it is talked to

    def new_log(self, job_id: str, sample: str) -> Path:
        """``LIBRARY/plover-27-1/2026-03-02T181203-my-bench-j7.log``: services of several benches share the library."""
        named = sample_folder(sample) or sample_folder(f"unnamed-{self.bench}")
        return self.logs / named / f"{file_stamp()}-{self.bench}-{job_id}.log"


def places(bench: str, folder: Path | str | None, library: Path | str | None = None) -> Places:
    """The places of the service of ``bench``: its state in ``folder``, the logs in ``library``."""
    base = (Path(folder) if folder else state_folder() / bench).absolute()
    logs = Path(library).absolute() if library else library_folder()
    socket = private_folder() / f"{bench}{SOCKET_SUFFIX}"
    return Places(bench, base, base / "queue", logs, base / "token", base / "page-link", socket)


def known_folders() -> tuple[Path, ...]:
    """The folders that services have made in the user's state folder."""
    return tuple(sorted(path.parent for path in state_folder().glob("*/queue") if path.is_dir()))


def find_socket(given: str | None, bench: str | None) -> Path:
    """The socket to connect to: as given, by ``BENCHD_SOCKET``, by the bench's name, or the only one there.

    Where there is none, the folder that it would be in, in which nothing answers.
    Raises `InputError` when there are several, and none is named.
    """
    if named := given or os.environ.get(SOCKET_VARIABLE):
        return Path(named)
    if bench:
        return private_folder() / f"{bench_name(bench)}{SOCKET_SUFFIX}"
    found = sorted(private_folder().glob(f"*{SOCKET_SUFFIX}"))
    if len(found) > 1:
        benches = ", ".join(path.stem for path in found)
        raise InputError(f"several services may run ({benches}); name one with --bench")
    return found[0] if found else private_folder()


def bench_of(socket: Path) -> str:
    """The bench whose service has ``socket``, as `find_socket` names it; "" for a socket of another place."""
    return socket.stem if socket.parent == private_folder() and socket.suffix == SOCKET_SUFFIX else ""


def bench_name(bench: str) -> str:
    """The name of a bench that is given by its name or by its path."""
    return Path(bench).name.removesuffix(".yaml")


def _may_write(logs: Path) -> None:
    """Raises `NoPlace` before a bench is taken where no log could be kept."""
    try:
        logs.mkdir(parents=True, exist_ok=True)
        writable = os.access(logs, os.W_OK | os.X_OK)
        why = "no permission to write there"
    except OSError as error:
        writable, why = False, error.strerror or str(error)
    if not writable:
        raise NoPlace(
            f"the folder for logs {logs} can't be used ({why}); name another one with --library or {LIBRARY_VARIABLE}"
        )


class ServiceLocks:
    """The right to be the service of a bench and of a folder, for the life of the process.

    Raises `ServiceRuns` or `NoPlace`. The files stay: removing one would let two processes lock two files of one name.
    """

    def __init__(self, where: Places) -> None:
        self._descriptors: list[int] = []
        try:
            make_private(private_folder())
            where.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._lock(private_folder() / f"{where.bench}.service.lock", f"bench {where.bench}")
            self._lock(where.folder / "service.lock", f"the folder {where.folder}")
            _may_write(where.logs)
        except OSError as error:
            self.release()
            raise NoPlace(
                f"{error.filename or where.folder} can't be used ({error.strerror}); name another --folder"
            ) from None
        except BaseException:
            self.release()
            raise

    def _lock(self, path: Path, what: str) -> None:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        self._descriptors.append(descriptor)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            holder = os.pread(descriptor, 20, 0).decode(errors="replace").strip()
            raise ServiceRuns(
                f"another service has {what} already{f' (process {holder})' if holder else ''}; use that one, or "
                "end it with: benchd stop"
            ) from None
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)

    def release(self) -> None:
        """Give both free."""
        while self._descriptors:
            os.close(self._descriptors.pop())
