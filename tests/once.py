"""What takes long to make is made once in a run of the tests, whichever of its workers needs it first."""

from __future__ import annotations

import fcntl
from collections.abc import Callable
from pathlib import Path

import pytest


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """The folder ``name``, which ``make`` has filled for all workers; nobody may change it.

    Where ``make`` fails, whoever asks next tries anew in a folder of its own, and fails as well.
    """
    of_worker = factory.getbasetemp()
    shared = of_worker.parent if of_worker.name.startswith("popen-") else of_worker
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (shared / name).exists():
            folder = factory.mktemp(name)
            make(folder)
            (shared / name).symlink_to(folder)
    return shared / name
