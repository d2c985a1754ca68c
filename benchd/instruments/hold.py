"""One meter, one holder: a lock named after the instrument, whatever port, driver or process asks.

The system's lock of a port can't see that one meter may be reached by two names (a bridge and a port, two
adapters), so model and serial number are locked too. The lock ends with the process that holds it.
"""

from __future__ import annotations

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
        path = _folder() / f"meter-{name}.lock"
        self._descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
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


def _folder() -> Path:
    """A folder of this user alone."""
    base = os.environ.get("XDG_RUNTIME_DIR") or tempfile.gettempdir()
    folder = Path(base) / f"benchd-{os.getuid()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid():
        raise MeterBusy(f"{folder} does not belong to this user, so no meter can be locked; remove it and try again")
    return folder
