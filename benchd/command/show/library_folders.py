"""Which folders ``benchd library`` reads, and the look at them for what is new."""

from __future__ import annotations

import shlex
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from benchd.command.messages import draw, rewrites, say
from benchd.errors import InputError
from benchd.library.scan import refresh
from benchd.library.store import Store
from benchd.report.words import count, printable
from benchd.user_folders import LIBRARY_VARIABLE, earlier_folders, library_folder

MAX_NAMED = 5  # damaged logs that are named unasked


def folders_of(arguments: Namespace) -> tuple[Path, tuple[Path, ...]]:
    """The folder of the library, and others that are read too: those of earlier versions, unless one is named."""
    if arguments.library:
        return Path(arguments.library), ()
    folder, others = library_folder(), earlier_folders()
    if not folder.exists() and (others or arguments.action == "add"):
        try:
            folder.mkdir(parents=True)  # the index stands there
        except OSError as error:
            raise InputError(
                f"the library {folder} can't be made ({error.strerror}); name another folder in the environment: "
                f"{LIBRARY_VARIABLE}, or with --library"
            ) from None
    if not folder.is_dir():
        raise InputError(
            f"the library {folder} has no log yet: `benchd run`, `check` and the service keep theirs there; name "
            "another folder with --library"
        )
    return folder, others


def bring_up_to_date(store: Store, folder: Path, others: Sequence[Path], library: str | None) -> None:
    """Bring the index up to date, with a line of progress."""
    terminal = rewrites()

    def progress(done: int, of: int, path: str) -> None:
        if terminal:
            draw(f"reading logs: {done + 1} of {of}  {printable(path)}")
        elif not done and of > 1:
            say(f"Reading {of} logs that are new, changed or were read by another version.")

    found = refresh(store, folder, progress, others)
    if terminal and found.read:
        say(f"Read {count(found.read, 'log')}.")
    for file in found.damaged[:MAX_NAMED]:
        say(printable(f"damaged: {file.path}: {file.fault}"))
    if more := len(found.damaged[MAX_NAMED:]):
        say(f"damaged: {more} more; `benchd library list{naming(library)}` names them all")


def naming(library: str | None) -> str:
    """The options that name the library, for a command that is printed."""
    return f" --library {shlex.quote(library)}" if library else ""
