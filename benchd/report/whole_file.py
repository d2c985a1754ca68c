"""An output file, whole or not at all: a failure or an interrupt leaves what stood there before."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path

from benchd.interrupt import Undo


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """The path to write to; what was written takes the place of ``path`` at the end. Raises `OSError`.

    A device or a pipe is written to and never replaced; of a link, what it leads to is replaced.
    """
    if path.exists() and not path.is_file():
        yield path
        return
    real = path.resolve()
    aside = real.with_name(f".{real.name}.part")
    take_away = partial(aside.unlink, missing_ok=True)
    with Undo(take_away):
        try:
            yield aside
            aside.replace(real)
        finally:
            with suppress(OSError):
                take_away()
