"""Both ends of a log, without what lies between: whether it has begun, and its last record."""

from __future__ import annotations

import os
from pathlib import Path

from benchd.run.log.journal import as_written, decode, is_sound
from benchd.run.log.records import Record

_BLOCK = 1 << 16


def has_begun(path: Path) -> bool:
    """True when the first record of a log is complete; false also when there is no file.

    Raises OSError when the file is there and can't be read.
    """
    try:
        with path.open("rb") as stream:
            while block := stream.read(_BLOCK):
                if b"\n" in block:
                    return True
    except FileNotFoundError:
        pass
    return False


def last_record(path: Path) -> Record | None:
    """The last complete record of a log, when its line is sound. Raises OSError when the file can't be read."""
    with path.open("rb") as stream:
        end = stream.seek(0, os.SEEK_END)
        tail = b""
        while end > 0 and tail.rstrip(b"\n").count(b"\n") < 2:
            size = min(_BLOCK, end)
            end -= size
            stream.seek(end)
            tail = stream.read(size) + tail
    whole = [as_written(line) for line in tail.splitlines(keepends=True) if line.endswith(b"\n")]
    if not whole or not is_sound(whole[-1]):
        return None
    try:
        return decode(whole[-1])
    except ValueError:
        return None
