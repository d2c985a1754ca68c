"""One meter, one holder: a lock named after the instrument, whatever port, driver or process requests it.

The system's lock of a port can't see that one meter may be reached by two names (a bridge and a port, two
adapters), so model and serial number are locked too. The lock ends with the process that holds it.
"""

from __future__ import annotations

import errno
import fcntl
import hashlib
import os
import stat
import tempfile
from pathlib import Path

from benchd.errors import MeterBusy


class Hold:
    """The exclusive right to one meter, from construction until `release`. Raises `MeterBusy`."""

    def __init__(self, model: str, serial_number: str) -> None:
        name = hashlib.sha256(f"{model}\0{serial_number}".encode()).hexdigest()[:32]
        folder = private_folder()
        try:
            make_private(folder)
            self._descriptor = os.open(folder / f"meter-{name}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError as error:
            raise MeterBusy(
                f"meter {model} {serial_number} can't be locked in {folder} ({error.strerror}); make that folder "
                "writable for this user and try again"
            ) from None
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = os.read(self._descriptor, 20).decode(errors="replace").strip()
            os.close(self._descriptor)
            raise MeterBusy(
                f"meter {model} {serial_number} is held by another process{f' ({holder})' if holder else ''}; "
                "let it finish, or end it, and try again"
            ) from None
        os.ftruncate(self._descriptor, 0)
        os.pwrite(self._descriptor, f"process {os.getpid()}\n".encode(), 0)

    def release(self) -> None:
        """Give the meter free; a second call does nothing."""
        if self._descriptor >= 0:
            # The file stays: removing it would let two processes lock two files of one name.
            os.close(self._descriptor)
            self._descriptor = -1


def private_folder() -> Path:
    """This user's folder for locks and sockets, the same one with and without a login session; not yet made."""
    usual = Path(f"/run/user/{os.getuid()}")
    runtime = os.environ.get("XDG_RUNTIME_DIR")
    base = Path(runtime) if runtime else usual if usual.is_dir() else Path(tempfile.gettempdir())
    return base / f"benchd-{os.getuid()}"


def make_private(folder: Path) -> None:
    """Make ``folder`` for this user alone. Raises OSError when it can't be made or is another user's."""
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid():
        raise PermissionError(errno.EPERM, "it does not belong to this user")
