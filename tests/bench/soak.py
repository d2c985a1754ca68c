"""Many readings, and whether memory and file handles stay as they were: in process, and through real processes."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass

from tests.bench.figures import Figure, Settings, tell
from tests.bench.process import python
from tests.bench.soak_child import SAMPLES, Kind

IN_PROCESS = 1_000_000
PROCESSES = 20_000
QUICK_SHARE = 10
MAX_GROWTH_PERCENT = 3.0
AGAINST = "at the second of ten samples, when everything was in use once"


@dataclass(frozen=True, slots=True)
class Soaked:
    """What a soak was, and its samples from the first to the last, at equal distances."""

    seconds: float
    readings: int
    steps: int
    faults: int
    log_mb: float
    about: str
    rss_mb: list[float]
    handles: list[int]
    others_mb: list[float]  # of all other processes of the bench together
    others_handles: list[int]


def soak(settings: Settings) -> Iterator[Figure]:
    """10^6 readings through the loop and the log; fewer through the driver, the port and the simulated bench."""
    share = QUICK_SHARE if settings.quick else 1
    yield from _figures("soak, in process", "in-process", IN_PROCESS // share, settings)
    yield from _figures("soak, processes", "processes", PROCESSES // share, settings)


def _figures(name: str, kind: Kind, readings: int, settings: Settings) -> Iterator[Figure]:
    words = ("-m", "tests.bench.soak_child", kind, str(readings), str(settings.folder))
    found = Soaked(**json.loads(python(words, settings.folder).stdout))
    tell(f"{name}: done")
    rss = found.rss_mb
    growth = 100.0 * (rss[-1] / rss[1] - 1.0)
    notes = [
        f"{found.readings} readings in {found.steps} steps, {found.seconds:.0f} s, log {found.log_mb:.0f} MB, "
        f"{found.faults} faults; {SAMPLES} samples, in MB: {' '.join(f'{value:.1f}' for value in rss)}",
        f"{growth:+.2f} % from the second sample to the last; SIMULATED; {found.about}",
    ]
    if any(found.others_mb):
        notes.append(f"all other processes of the bench, in MB: {' '.join(f'{mb:.1f}' for mb in found.others_mb)}")
    goal = f"<= {MAX_GROWTH_PERCENT:g} % more"
    met = growth <= MAX_GROWTH_PERCENT
    yield Figure(f"{name}, memory", rss[-1], "MB", rss[1], AGAINST, goal, met, tuple(notes))
    handles = found.handles
    told = [f"{SAMPLES} samples: {' '.join(map(str, handles))}"]
    if any(found.others_handles):
        told.append(f"all other processes of the bench: {' '.join(map(str, found.others_handles))}")
    met = handles[-1] <= handles[1]
    yield Figure(f"{name}, handles", handles[-1], "", handles[1], AGAINST, "none more", met, tuple(told))
