"""Where a command writes: a file that is no log, or stdout; and whether it can be written at all."""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

from benchd.command.messages import say
from benchd.errors import InputError, ProfileError
from benchd.exits import Exit
from benchd.report.whole_file import whole_file
from benchd.report.words import count
from benchd.user_folders import LIBRARY_VARIABLE, library_folder


def fresh(path: Path) -> Path:
    """``path``, once it is sure that nothing stands there and that a file can be made.

    Called before a bench is opened, so that a wrong name costs no time. Raises `InputError`.
    """
    if path.is_dir():
        raise InputError(f"{path} is a folder; name a file in it")
    if path.exists() or path.is_symlink():
        raise InputError(f"{path} exists already and is left as it is; name another file")
    another = "name another file"
    if path.is_relative_to(library_folder()):
        another += f", or another folder for all logs in the environment: {LIBRARY_VARIABLE}"
    if not can_be_made(path):
        folder = _nearest(path)
        why = f"no permission to write in {folder}" if folder.is_dir() else f"{folder} is no folder"
        raise InputError(f"{path} can't be made: {why}; {another}")
    return path


def can_be_made(path: Path) -> bool:
    """Is it there and can be written, or can it be made?"""
    folder = path if path.is_dir() else _nearest(path)
    return folder.is_dir() and os.access(folder, os.W_OK | os.X_OK)


def _nearest(path: Path) -> Path:
    """What of the folders above is there."""
    return next(one for one in path.absolute().parents if one.exists())


def one_line(name: str, text: str) -> str:
    """``text`` of the option ``name``, which must be printable: it stands in the log and in every result.

    Raises `InputError`.
    """
    if not text.isprintable():
        raise InputError(f"{name} {text!r}: only printable characters, on one line")
    return text.strip()


def sample_name(text: str) -> str:
    """``text`` of --sample, as `one_line`; a name of several parts is said to be one model and one unit."""
    name = one_line("--sample", text)
    if name.count("/") > 1:
        model, _, unit = name.rpartition("/")
        say(f"Note: sample {name!r} has more than one '/'; the last one counts: model {model!r}, unit {unit!r}.")
    return name


def print_json(value: object, output: str = "-") -> None:
    """``value`` and a line end. Finite numbers only, so that every reader can parse it."""
    write_text(json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n", output)


def print_as(kind: str, value: Callable[[], object], text: Callable[[], str], output: str = "-") -> Exit:
    """What a command found, as ``--format`` requests it: JSON or text."""
    if kind == "json":
        print_json(value(), output)
    else:
        write_text(text(), output)
    return Exit.COMPLETE


def refused(error: ProfileError, so: str) -> Exit:
    """Report all errors in a file together, and what follows from them."""
    say(f"{error}\n{count(len(error.faults), 'error')}; {so}.")
    return Exit.BAD_INPUT


def not_written(path: Path, error: OSError) -> InputError:
    """Why an output can't be had, as a sentence."""
    return InputError(f"{path} can't be written: {(error.strerror or 'unknown reason').lower()}")


def width() -> int:
    """Signs on a line of the terminal; 100 where there is none."""
    return shutil.get_terminal_size((100, 24)).columns


def write_text(text: str, output: str, what: str = "Written") -> None:
    """A text into a file, whole or not at all, or to stdout (``-``). Raises `InputError` when it can't be written."""
    if output == "-":
        sys.stdout.write(text)
        return

    path = not_a_log(output)
    try:
        with whole_file(path) as aside:
            aside.write_text(text, encoding="utf-8")
    except OSError as error:
        raise not_written(path, error) from None
    say(f"{what}: {path}")


def not_a_log(output: str) -> Path:
    """The path, fit to be written. Raises `InputError` for a log and for what names no file."""
    path = Path(output)
    if not path.name:
        raise InputError(f"{output} can't be written: it names no file")
    if is_log(path):
        raise InputError(f"{output} is a log, which nothing is written over; name another file")
    return path


def is_log(path: Path) -> bool:
    """Does the file begin as a log? False too where it can't be read, which is reported by what opens it."""
    from benchd.run.log.journal import begins_as_a_log  # for a file that may be one only

    try:
        with path.open("rb") as file:
            return begins_as_a_log(file.read(16))
    except OSError:
        return False
