"""A log from elsewhere, copied into the library's folder: checked, named after its sample, never over another one."""

from __future__ import annotations

import filecmp
import os
import shutil
import tempfile
from functools import partial
from pathlib import Path

from benchd.errors import InputError
from benchd.interrupt import Undo
from benchd.library.scan import SUFFIX, logs_in
from benchd.run.log.journal import LogFile
from benchd.user_folders import sample_folder


def take_in(log: Path, folder: Path) -> tuple[Path, bool]:
    """Copy ``log`` below ``folder``: where it is now, and whether it was there already.

    Raises `LogRefused` for a damaged log and `InputError` when nothing can be written there.
    """
    file = LogFile(log)
    sample = ""
    for record in file.records():
        if record.kind == "started":
            sample = str(record.body.get("sample") or "")
    if log.resolve().is_relative_to(folder.resolve()) and log.suffix == SUFFIX:
        return log, True
    size = log.stat().st_size
    for _, entry in logs_in(folder):
        if entry.stat().st_size == size and filecmp.cmp(entry.path, log, shallow=False):
            return Path(entry.path), True
    return _copy(log, folder / (sample_folder(sample) or "unnamed")), False


def _copy(log: Path, place: Path) -> Path:
    """Whole or not at all: written aside, then linked under a name that is free."""
    try:
        place.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=place, prefix=".benchd-", delete=False) as aside:
            with Undo(partial(os.unlink, aside.name)), log.open("rb") as source:
                shutil.copyfileobj(source, aside)
            aside.flush()
            os.fsync(aside.fileno())
        made = Path(aside.name)
        try:
            made.chmod(0o644)
            for number in range(1, 10_000):
                target = place / (f"{log.stem}{SUFFIX}" if number == 1 else f"{log.stem}-{number}{SUFFIX}")
                try:
                    target.hardlink_to(made)
                except FileExistsError:
                    continue
                return target
        finally:
            made.unlink()
    except OSError as error:
        raise InputError(f"{log} can't be copied to {place} ({error.strerror}); choose another --library") from None
    raise InputError(f"{place} has too many logs named {log.stem}; give this one another name")
