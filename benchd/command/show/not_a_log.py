"""Where an output may go: anywhere but over a log, which is the only copy of what was measured."""

from __future__ import annotations

from pathlib import Path

from benchd.errors import InputError


def not_a_log(output: str) -> Path:
    """The path, fit to be written. Raises `InputError` for a log and for what names no file."""
    from benchd.run.log.journal import BEGINS  # for an output into a file only

    path = Path(output)
    if not path.name:
        raise InputError(f"{output} can't be written: it names no file")
    try:
        with path.open("rb") as file:
            begins = file.read(len(BEGINS))
    except OSError:
        return path  # not there, or the error is reported when it is written
    if begins == BEGINS:
        raise InputError(f"{output} is a log, which nothing is written over; name another file")
    return path
