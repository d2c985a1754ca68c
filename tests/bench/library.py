"""A library of 5 000 samples: how long it takes to rank and to filter them, as whole processes, beyond start-up.

The samples are made as `tests.library.made` says: the results of one analysed log, varied, put into the index as a scan
would, each with a file in the folder that every command looks at. With ``--quick`` they have their main figures only.
"""

from __future__ import annotations

import resource
import shutil
from collections.abc import Iterator
from time import perf_counter

from tests.bench.figures import Figure, Settings, ms, tell
from tests.bench.process import python
from tests.library.made import fill

SAMPLES = 5000
MAX_ADDED_MS = 200.0
CONDITION = "contrast >= 1000 and white > 400 and sample = plover*"

Words = tuple[str, ...]


def library(settings: Settings) -> Iterator[Figure]:
    """``rank``, ``query`` and ``list`` over the start-up of the same command."""
    folder = settings.folder / "library"
    began_s = perf_counter()
    index = fill(folder, SAMPLES, headlines_only=settings.quick)
    tell(f"library: {SAMPLES} samples made in {perf_counter() - began_s:.0f} s")
    megabytes = index.stat().st_size / 1e6
    where = ("--library", str(folder))
    start: Words = ("-m", "benchd", "library", "rank", "--help")
    commands: dict[str, Words] = {
        "rank": ("-m", "benchd", "library", "rank", "contrast", "--limit", "50", *where),
        "query": ("-m", "benchd", "library", "query", CONDITION, *where),
    }
    rounds = 5 if settings.quick else 15
    taken: dict[Words, list[float]] = {words: [] for words in (start, *commands.values())}
    busy: dict[Words, list[float]] = {words: [] for words in taken}
    for number in range(rounds + 1):
        for words, times in taken.items():
            began_s, busy_s = perf_counter(), _processor_s()
            python(words, settings.folder)
            if number:  # the first round fills the caches of the file system
                times.append(perf_counter() - began_s)
                busy[words].append(_processor_s() - busy_s)
    tell(f"library: {rounds} rounds")
    bare = ms(taken[start])
    for name, words in commands.items():
        value = ms(taken[words])
        added = value - bare
        cpu = ms(busy[words]) - ms(busy[start])
        notes = (
            f"{added:.0f} ms more, of them {cpu:.0f} ms of the processor; medians of {rounds}; index of "
            f"{megabytes:.0f} MB",
        )
        against = "`benchd library rank --help`, in turn with it"
        goal = f"<= {MAX_ADDED_MS:g} ms more"
        yield Figure(f"library {name}, {SAMPLES}", value, "ms", bare, against, goal, added <= MAX_ADDED_MS, notes)
    shutil.rmtree(folder)


def _processor_s() -> float:
    """Seconds of the processor that ended children took so far; what else the machine does adds little to them."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
