"""The file that a new log goes to: its default name, and whether it can be made at all."""

from __future__ import annotations

import os
from pathlib import Path

from benchd.clock import file_stamp
from benchd.errors import InputError


def default_log(folder: str, sample: str = "") -> Path:
    """``folder/sample/2026-03-02T181203.log`` with the sample made safe for a path.

    A second log of the same second gets ``-2`` after its time.
    """
    safe = "".join(sign if sign.isalnum() or sign in "-_." else "-" for sign in sample).strip(".-")
    stamp, place, number = file_stamp(), Path(folder, safe), 1
    path = place / f"{stamp}.log"
    while path.exists():
        number += 1
        path = place / f"{stamp}-{number}.log"
    return path


def fresh(path: Path) -> Path:
    """``path``, once it is sure that nothing stands there and that a file can be made.

    Called before a bench is opened, so that a wrong name costs no time. Raises `InputError`.
    """
    if path.is_dir():
        raise InputError(f"{path} is a folder; name a file in it")
    if path.exists() or path.is_symlink():
        raise InputError(f"{path} exists already and is left as it is; name another file")
    folder = next(one for one in path.absolute().parents if one.exists())
    if not folder.is_dir():
        raise InputError(f"{path} can't be made: {folder} is no folder; name another file")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise InputError(f"{path} can't be made: no permission to write in {folder}; name another file")
    return path


def one_line(name: str, text: str) -> str:
    """``text`` of the option ``name``, which must be printable: it stands in the log and in every result.

    Raises `InputError`.
    """
    if not text.isprintable():
        raise InputError(f"{name} {text!r}: only printable characters, on one line")
    return text
