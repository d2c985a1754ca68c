"""A whole night on virtual time: the demo's longest plan, as its user starts it."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter

from benchd.run.log.journal import LogFile
from tests.bench.figures import Figure, Settings, tell
from tests.bench.process import python
from tests.bench.stopwatch import bare_fsync_s

HOURS = 8.0
GOAL_S = 20.0
BARE = "the records of the same log written and synced, and nothing else, afterwards"


def night(settings: Settings) -> Iterator[Figure]:
    """``benchd demo --night``."""
    yield whole_night("night", ("demo", "--night"), settings)


def whole_night(name: str, command: tuple[str, ...], settings: Settings) -> Figure:
    """A command of benchd that takes a night of bench time, as a process of its own. Raises `Failed`."""
    path = settings.folder / "night.log"
    before = os.times()
    began_s = perf_counter()
    python(("-m", "benchd", *command, "--log", str(path)), settings.folder)
    wall_s = perf_counter() - began_s
    after = os.times()
    busy_s = sum(after[2:4]) - sum(before[2:4])  # of the children that have ended
    tell(f"{name}: done")
    hours, kinds = _read(path)
    lines = path.read_bytes().splitlines(keepends=True)
    bare_s = sum(bare_fsync_s(lines, settings.folder / "bare.log"))
    path.unlink()
    scaled_s = wall_s * HOURS / hours
    notes = (
        f"SIMULATED {hours:.2f} h in {wall_s:.1f} s of wall time ({busy_s:.1f} s of processor time in all processes): "
        f"{3600.0 * hours / wall_s:.0f} times faster than real; the value is for {HOURS:g} h",
        f"{kinds['done']} steps, {kinds['reading']} readings, {kinds['set']} sets, {sum(kinds.values())} records, "
        f"{kinds['fault']} faults: {1000.0 * wall_s / kinds['done']:.2f} ms a step, start-up and results included",
    )
    met = scaled_s <= GOAL_S
    return Figure(f"{name}, 8 h SIMULATED", scaled_s, "s", bare_s, BARE, f"<= {GOAL_S:g} s", met, notes)


def _read(path: Path) -> tuple[float, Counter[str]]:
    """Hours of bench time from the first record to the last, and how many records of each kind."""
    kinds: Counter[str] = Counter()
    first_ns = last_ns = 0
    for record in LogFile(path).records():
        first_ns, last_ns = first_ns or record.mono_ns, record.mono_ns
        kinds[record.kind] += 1
    assert kinds["ended"] == 1, "the night is complete"
    return (last_ns - first_ns) / 3.6e12, kinds
