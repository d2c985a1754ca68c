"""Logs by name: where a command keeps a new one, and which one is meant by what was typed."""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator
from pathlib import Path

from benchd.command.messages import say
from benchd.errors import InputError, nearest
from benchd.user_folders import library_folder, sample_folder

SUFFIX = ".log"
NEAR = 0.75
"""How like the folder of a sample a name must be (0 to 1) to be taken for it mistyped."""


def default_log(sample: str, unnamed: str) -> Path:
    """``LIBRARY/sample/2026-03-02T181203.log``; without a sample's name in the folder ``unnamed``.

    A second log of the same second gets ``-2`` after its time.
    """
    from benchd.clock import file_stamp  # a help text needs no clock

    stamp, place, number = file_stamp(), library_folder() / (sample_folder(sample) or sample_folder(unnamed)), 1
    path = place / f"{stamp}{SUFFIX}"
    while path.exists():
        number += 1
        path = place / f"{stamp}-{number}{SUFFIX}"
    return path


def log_named(typed: str) -> str:
    """The path of the log that is meant: a file, else one in the library, else the newest of a sample there.

    As it was typed where there is none: what opens a file reports that. Raises `InputError` for a sample mistyped.
    """
    if Path(typed).exists() or not typed:
        return typed
    library = library_folder()
    for inside in (library / typed, library / f"{typed}{SUFFIX}"):
        if inside.is_file():
            return str(inside)
    folder = library / (sample_folder(typed) or "-")
    logs = [(*_begun(path), path) for path in folder.glob(f"*{SUFFIX}")]
    begun = sorted((wall, path) for wall, sample, path in logs if typed in (sample, folder.name))
    if not begun:
        _refuse_sample(typed, library)
        return typed
    if len(begun) > 1:
        say(f"Note: of {len(begun)} logs of {typed} the newest: {begun[-1][1]}")
    return str(begun[-1][1])


def short_name(log: Path) -> Path:
    """The shortest name by which `log_named` finds the log: in the library its name there."""
    try:
        inside = log.resolve().relative_to(library_folder().resolve())
    except ValueError:
        return log
    return log if inside.exists() or len(str(inside)) > len(str(log)) else inside


def _refuse_sample(typed: str, library: Path) -> None:
    """Raises `InputError` where ``typed`` is no name of a file, but nearly that of a sample."""
    if typed.endswith(SUFFIX) or not sample_folder(typed):
        return
    folders = {path.name: path for path in library.glob("*/") if next(path.glob(f"*{SUFFIX}"), None)}
    near = nearest(sample_folder(typed), folders, most=1, cutoff=NEAR)
    if not near:
        return
    _, sample, newest = max((*_begun(path), path) for path in folders[near[0]].glob(f"*{SUFFIX}"))
    raise InputError(
        f"there is no log {typed!r}, and none of such a sample in the library; did you mean {sample or near[0]}? "
        f"Its newest log: benchd results {as_typed(newest)}"
    )


def _begun(path: Path) -> tuple[str, str]:
    """When a log was begun, and of which sample; nothing of both where its first line can't be read."""
    try:
        with path.open("rb") as file:
            first = json.loads(file.readline())
        return str(first["wall"]), str(first["body"].get("sample", ""))
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return "", ""


def which_log(command: str) -> str:
    """What is answered where no log is named: the one that was written last."""
    _, newest = max(_written(library_folder()), default=(0.0, None), key=lambda one: one[0])
    such = f"for example: benchd {command} run.log" if newest is None else "the newest of the library: "
    return f"`benchd {command}` needs LOG; {such}{f'benchd {command} {as_typed(newest)}' if newest else ''}"


def _written(folder: Path) -> Iterator[tuple[float, Path]]:
    from benchd.library.scan import logs_in  # where no log is named

    for _, entry in logs_in(folder):
        try:
            yield entry.stat().st_mtime, Path(entry.path)
        except OSError:
            continue  # removed meanwhile


def as_typed(path: Path) -> str:
    """``path`` as a shell takes it."""
    return shlex.quote(str(path))
