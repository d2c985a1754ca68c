"""From folders of logs to the index: only what is new or changed is read, and a damaged log stops nothing.

A file is known by its size and the time of its last change; its results by the digest of its bytes and the version
of the analysis, of installed measurements too. So a log that was moved or copied costs no analysis, and one analysis
never shows the figures of another one.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchd import installed
from benchd.errors import InputError, LogRefused, NotALog
from benchd.library.store import IndexedFile, Store

INDEX_NAME = "benchd-library.sqlite"
"""The index of a folder, within it."""

SUFFIX = ".log"
AT_ONCE = 20  # logs in one change of the index

_SHAPE_OF_RESULTS = (
    "run/log/records.py",
    "report/data/document.py",
    "report/uncertain.py",
    "library/entry.py",
    "library/take.py",
)
"""What decides, beside the analysis, which figures an entry has and what they are."""

Progress = Callable[[int, int, str], None]
"""Called before each log that is read: how many were, of how many, and its path."""


@dataclass(frozen=True, slots=True)
class Refreshed:
    """What a look at the folders found."""

    read: int  # logs whose results were computed
    known: int  # logs that needed nothing
    gone: int  # files that are no longer there
    damaged: tuple[IndexedFile, ...]  # new or changed files that nothing can be had from


def analysis_version() -> str:
    """Sixteen digits that change with whatever can change a figure.

    The code of analysis and of the results' shape; which packages add measurements, and their versions.
    """
    package = Path(__file__).resolve().parent.parent
    rooms = (one for room in ("analysis", "measurements") for one in sorted((package / room).rglob("*.py")))
    parts = [*rooms, *(package / name for name in _SHAPE_OF_RESULTS)]
    digest = hashlib.sha256("\0".join(installed.claimants(installed.MEASUREMENTS)).encode())
    for path in parts:
        digest.update(path.relative_to(package).as_posix().encode() + b"\0")
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def open_library(folder: Path, index: Path | None = None) -> Store:
    """The index of ``folder``. Raises `InputError` when there is no such folder."""
    if not folder.is_dir():
        raise InputError(f"there is no folder {folder}; make it, or name the folder of your logs with --library")
    return Store(index or folder / INDEX_NAME, analysis_version(), folder)


def remove_index(folder: Path, index: Path | None = None) -> None:
    """Take the index away, whatever state it is in, so that it is made anew.

    Raises `InputError` when it can't be removed or is no database at all.
    """
    path = index or folder / INDEX_NAME
    try:
        with path.open("rb") as file:
            head = file.read(15)
        if index is not None and head and head != b"SQLite format 3":
            raise InputError(f"{path} is not an index of benchd and is left as it is; name another file")
        path.unlink()
    except FileNotFoundError:
        return
    except OSError as error:
        raise InputError(f"the index {path} can't be removed ({error.strerror}); name another one") from None


def logs_in(
    folder: Path, looked_at: set[tuple[int, int]] | None = None, prefix: str = ""
) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Every log below ``folder``: its path within it, after ``prefix``, and its entry there. Hidden ones are left out.

    ``looked_at``: folders that are not looked into again, by device and number; those that are, are added.
    """
    waiting = [(str(folder), prefix)]
    known = set() if looked_at is None else looked_at
    while waiting:
        place, prefix = waiting.pop(0)
        try:
            found = os.stat(place)
            if (found.st_dev, found.st_ino) in known:
                continue
            known.add((found.st_dev, found.st_ino))
            entries = sorted(os.scandir(place), key=lambda entry: entry.name)
        except OSError:
            continue  # removed meanwhile, or not ours to look into
        for entry in entries:
            if entry.name.startswith("."):
                continue
            if entry.is_dir(follow_symlinks=False):
                waiting.append((entry.path, f"{prefix}{entry.name}/"))
            elif entry.name.endswith(SUFFIX):
                yield f"{prefix}{entry.name}", entry


def _logs(folder: Path, others: Iterable[Path]) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Every log of ``folder`` by its path within it, and of the ``others`` by its whole path."""
    looked_at = set[tuple[int, int]]()
    yield from logs_in(folder, looked_at)
    for other in others:
        yield from logs_in(other, looked_at, f"{other.absolute().as_posix()}/")


def refresh(
    store: Store, folder: Path, progress: Progress = lambda done, of, path: None, others: Sequence[Path] = ()
) -> Refreshed:
    """Bring the index up to what stands in ``folder`` and in ``others``, which are in view from here on.

    What is done is kept when it is stopped half-way. Logs elsewhere that the index knows from before stay in it.
    """
    known, digests = store.files(every=True), store.digests()
    here: set[str] = set()
    changed: list[tuple[str, Path, int, int]] = []
    for name, entry in _logs(folder, others):
        try:
            stat = entry.stat()
        except OSError:
            continue  # removed between the list and the look
        here.add(name)
        old = known.get(name)
        same = old is not None and (old.size, old.mtime_ns) == (stat.st_size, stat.st_mtime_ns)
        if not same or old is None or (not old.fault and old.sha256 not in digests):
            changed.append((name, Path(entry.path), stat.st_size, stat.st_mtime_ns))
    gone = [name for name in known if name not in here and not (os.path.isabs(name) and os.path.exists(name))]
    read, damaged = 0, list[IndexedFile]()
    for first in range(0, len(changed), AT_ONCE):
        with store.changes():
            for number, (name, path, size, mtime_ns) in enumerate(changed[first : first + AT_ONCE], first):
                progress(number, len(changed), name)
                sha256, fault, fresh = _take(store, path)
                read += fresh
                file = IndexedFile(name, size, mtime_ns, sha256, fault)
                store.put_file(file)
                damaged += [file] if fault else []
    if gone or changed:
        with store.changes():
            store.forget_files(gone)
    store.look_at(here)
    return Refreshed(read, len(here) - len(changed), len(gone), tuple(damaged))


def _take(store: Store, path: Path) -> tuple[str, str, bool]:
    """Read one log into the index: its digest, or why nothing can be had from it; and whether it was computed."""
    from benchd.analysis.analyse import analyse  # only for a log that is new: the index alone needs no numbers' library
    from benchd.library.take import facts_of, figures_of
    from benchd.report.data.document import to_json
    from benchd.report.data.log_reference import LogReference
    from benchd.run.log.journal import LogFile

    try:
        sha256 = _digest(path)
    except InputError as error:
        return "", str(error), False
    if store.has_results(sha256):
        return sha256, "", False
    log = LogFile(path)
    try:
        results = analyse(log.records())
        document = to_json(results, LogReference(str(path), log.sha256))
    except LogRefused as refused:
        has_line = refused.line and not isinstance(refused, NotALog)
        return "", f"line {refused.line}: {refused.text}" if has_line else refused.text, False
    except InputError as error:
        return "", str(error), False
    except ValueError as error:
        return "", f"its results can't be stated ({error})", False
    store.put(facts_of(document), figures_of(results, document))
    return log.sha256, "", True


def _digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise InputError(f"can't be read ({error.strerror})") from None
