"""The same work on several things, spread over the cores by copies of this process."""

from __future__ import annotations

import gc
import os
import pickle
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from typing import IO, Any, Generic, TypeVar

from benchd.interrupt import Undo

_Thing = TypeVar("_Thing")
_Result = TypeVar("_Result")

_TICKET = 4
_MOST = 4096 // _TICKET
"""So many tickets fit any pipe."""


def spread(work: Callable[[_Thing], _Result], things: Sequence[_Thing]) -> list[_Result]:
    """``[work(one) for one in things]``, each by whichever process is free; see `Spread`."""
    with Spread(work, things) as begun:
        return begun.results()


class Spread(Generic[_Thing, _Result]):
    """``work`` on each of ``things``, begun in other processes, so that this one may do something else meanwhile.

    As many processes as there are cores, this one included, which joins in `results`. They are copies of this one
    (fork), so that nothing is sent to them; what ``work`` returns must be picklable. What a child could not do, because
    of an error or because it was killed, is done again here, in the order of ``things``, so that an error is raised as
    in a loop. Where a copy is not safe, since another thread runs, or not possible, all is done in `results`.
    """

    def __init__(self, work: Callable[[_Thing], _Result], things: Sequence[_Thing]) -> None:
        self._work, self._things = work, things
        self._children: dict[int, IO[bytes]] = {}
        self._undo = Undo(self._end_children)
        self._tickets = -1

    def __enter__(self) -> Spread[_Thing, _Result]:
        self._undo.__enter__()
        processes = min(len(self._things), cores())
        alone = len(sys._current_frames()) == 1
        if processes > 1 and len(self._things) <= _MOST and hasattr(os, "fork") and alone:
            self._begin(processes - 1)
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._end_children()
        self._undo.__exit__()
        if self._tickets >= 0:
            os.close(self._tickets)

    def results(self) -> list[_Result]:
        """In the order of ``things``, once all are done."""
        found: dict[int, _Result] = {}
        with suppress(Exception):  # it is raised below, when its turn comes
            found.update((number, self._work(self._things[number])) for number in self._taken())
        for child, out in list(self._children.items()):
            os.waitpid(child, 0)
            del self._children[child]
            with out:
                found.update(_read(out))
        return [found[at] if at in found else self._work(thing) for at, thing in enumerate(self._things)]

    def _begin(self, children: int) -> None:
        self._tickets, written = os.pipe()
        os.write(written, b"".join(number.to_bytes(_TICKET) for number in range(len(self._things))))
        os.close(written)
        with suppress(OSError):  # no room for another process or file: those that there are do it
            for _ in range(children):
                out = _nameless()
                self._children[self._forked(out)] = out

    def _forked(self, out: IO[bytes]) -> int:
        """A child that works until no ticket is left; its results go into a file, where none waits for a reader."""
        parent = os.getpid()
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        child = os.fork()
        if child:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
            return child
        try:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
            gc.freeze()  # to look through what is shared would copy it
            for number in self._taken():
                pickle.dump((number, self._work(self._things[number])), out, pickle.HIGHEST_PROTOCOL)
                if os.getppid() != parent:
                    break  # for nobody
            out.flush()
        finally:
            os._exit(0)  # nothing of the parent's is written or closed twice

    def _taken(self) -> Iterator[int]:
        """Numbers of things that nobody else does; a pipe gives each of its bytes to one reader."""
        while self._tickets >= 0 and (ticket := os.read(self._tickets, _TICKET)):
            yield int.from_bytes(ticket)

    def _end_children(self) -> None:
        for child, out in self._children.items():
            with suppress(OSError):
                os.kill(child, signal.SIGKILL)
                os.waitpid(child, 0)
            out.close()
        self._children.clear()


def cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _nameless() -> IO[bytes]:
    """A file that is gone once it is closed."""
    if hasattr(os, "memfd_create"):
        return open(os.memfd_create("results"), "w+b")
    import tempfile

    return tempfile.TemporaryFile()


def _read(out: IO[bytes]) -> Iterator[tuple[int, Any]]:
    out.seek(0)
    with suppress(EOFError, pickle.UnpicklingError):  # a child that was killed leaves half of a result
        while True:
            yield pickle.load(out)
