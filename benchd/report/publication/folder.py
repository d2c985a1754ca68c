"""A folder written whole or not at all; and one of unknown origin read with bounds."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from benchd.errors import InputError
from benchd.interrupt import Undo
from benchd.report.publication.manifest import MANIFEST, README, Manifest, manifest_from
from benchd.report.words import printable

MAX_FILES = 20_000
MAX_DEPTH = 2
MAX_BYTES = 256 << 20
"""Of one file that is no log; a log, which is streamed, may have `MAX_LOG_BYTES`."""
MAX_LOG_BYTES = 512 << 20


@contextmanager
def whole_folder(target: Path, *, replace: bool) -> Iterator[Path]:
    """An empty folder to write to, which takes the place of ``target`` at the end; an error leaves all as it was.

    Raises `InputError` where something stands there: an earlier publication needs ``replace``, all else is left alone.
    """
    _refuse_other(target, replace=replace)
    real = Path(os.path.abspath(target))
    try:
        real.parent.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=f".{real.name[:40]}.part-", dir=real.parent))
    except OSError as error:
        raise _not_made(target, error) from None
    take_away = partial(shutil.rmtree, aside, ignore_errors=True)
    with Undo(take_away):
        try:
            yield aside
            aside.chmod(0o755)
            _put(aside, real)
        except OSError as error:
            raise _not_made(target, error) from None
        finally:
            take_away()


def _put(aside: Path, real: Path) -> None:
    """In the place of ``real``, which is not there, is empty, or is an earlier publication."""
    if not real.exists() or not any(real.iterdir()):
        aside.replace(real)
        return
    earlier = Path(tempfile.mkdtemp(prefix=f".{real.name[:40]}.old-", dir=real.parent))

    def put_back() -> None:
        if not real.exists():
            earlier.replace(real)

    with Undo(put_back):
        real.replace(earlier)
        try:
            aside.replace(real)
        finally:
            put_back()
    shutil.rmtree(earlier, ignore_errors=True)


def _refuse_other(target: Path, *, replace: bool) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise InputError(f"{target} is no folder; name a new one")
    if not target.exists() or not any(target.iterdir()):
        return
    try:
        there = files_in(target)
        known = {MANIFEST, README, *manifest_in(target, there).files}
    except InputError:
        raise InputError(f"{target} holds other things, which are left as they are; name a new folder") from None
    if others := sorted(there.keys() - known):
        raise InputError(f"{target} holds {printable(others[0])}, which no publication wrote; name a new folder")
    if not replace:
        raise InputError(f"{target} is an earlier publication, which is left as it is; replace it with --yes")


def manifest_in(folder: Path, there: dict[str, int]) -> Manifest:
    """The manifest of a folder. Raises `InputError`."""
    if MANIFEST not in there:
        raise InputError(_no_publication(folder))
    text = read_file(folder, MANIFEST).decode(errors="replace")
    return manifest_from(text, str(folder / MANIFEST))


def files_in(folder: Path) -> dict[str, int]:
    """Path in the folder and size of every file. Links, pipes, devices and what is too large are refused.

    Raises `InputError` with one sentence.
    """
    if not folder.is_dir():
        raise InputError(f"there is no folder {folder}; name one that benchd publish wrote")
    if not os.path.lexists(folder / MANIFEST):  # then nothing else needs to be looked at
        raise InputError(_no_publication(folder))
    found: dict[str, int] = {}
    try:
        _look(folder, "", 1, found)
    except OSError as error:
        raise InputError(f"{folder} can't be read ({(error.strerror or 'unknown reason').lower()})") from None
    return found


def _no_publication(folder: Path) -> str:
    return f"{folder} is no publication (it has no {MANIFEST}); name a folder that benchd publish wrote"


def _look(folder: Path, below: str, depth: int, found: dict[str, int]) -> None:
    with os.scandir(folder) as entries:
        for entry in entries:
            path = f"{below}{entry.name}"
            mode = entry.stat(follow_symlinks=False)
            if stat.S_ISDIR(mode.st_mode) and depth < MAX_DEPTH:
                _look(Path(entry.path), f"{path}/", depth + 1, found)
                continue
            if not stat.S_ISREG(mode.st_mode):
                kind = "a link" if stat.S_ISLNK(mode.st_mode) else "neither a file nor a folder of a publication"
                raise InputError(f"{printable(path)} is {kind}, which no publication has; nothing was computed")
            most = MAX_LOG_BYTES if path.startswith("logs/") else MAX_BYTES
            if mode.st_size > most:
                raise InputError(
                    f"{printable(path)} has {mode.st_size} bytes, and {most} is the limit; nothing was computed"
                )
            if len(found) >= MAX_FILES:
                raise InputError(f"the folder has more than {MAX_FILES} files; nothing was computed")
            found[path] = mode.st_size


def read_file(folder: Path, path: str) -> bytes:
    """A file of the folder, never through a link and never a pipe. Raises `InputError`."""
    try:
        descriptor = os.open(folder / path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
        with open(descriptor, "rb") as stream:
            if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
                raise OSError(0, "it is no file")
            content = stream.read(MAX_BYTES + 1)
    except OSError as error:
        raise InputError(f"{printable(path)} can't be read ({(error.strerror or 'unknown reason').lower()})") from None
    if len(content) > MAX_BYTES:
        raise InputError(f"{printable(path)} has more than {MAX_BYTES} bytes, which is the limit")
    return content


def _not_made(target: Path, error: OSError) -> InputError:
    return InputError(
        f"{target} can't be written: {(error.strerror or 'unknown reason').lower()}; nothing was left there"
    )
