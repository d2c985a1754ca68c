"""What a user waits for after a run: all intervals of a log, its page with plots, four logs compared, a swept log.

Each beside the import of the library that it needs, as a whole process in turn with it; with ``--before`` also beside
the same command of another checkout, such as that of the commit before.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter

from benchd.run.job import plan_job
from tests.bench.figures import Figure, Settings, tell
from tests.bench.process import ROOT, python
from tests.run.kill_anywhere import session

NUMPY = ("-c", "import numpy")
MAX_OVER_NUMPY = 2.5
MAX_OVER_BEFORE = 1.0 / 3.0
DISPLAYS = ("office-lcd", "wide-gamut-lcd", "emissive", "miscalibrated-lcd")
Words = tuple[str, ...]


def pages(settings: Settings) -> Iterator[Figure]:
    """``results --details``, ``report`` with plots, ``compare`` of four logs as a page, ``report`` of a sweep."""
    folder = settings.folder
    logs = [str(_log("sdr-standard", display, folder)) for display in DISPLAYS]
    yield from _figures("results, all intervals", ("results", logs[0], "--details"), NUMPY, settings, MAX_OVER_NUMPY)
    drawn = ("-o", str(folder / "page.html"), "--plots", str(folder / "plots"))
    yield from _figures("report with plots", ("report", logs[0], *drawn), NUMPY, settings)
    yield from _figures("compare of four, page", ("compare", *logs, *drawn[:2]), NUMPY, settings)
    if not settings.quick:
        swept = str(folder / "sweep.log")
        python(("-m", "benchd", "run", "sweep-night", "--bench", "sim-office", "--log", swept), folder)
        yield from _figures("report of a sweep with plots", ("report", swept, *drawn), NUMPY, settings, rounds=3)


def _log(plan: str, display: str, folder: Path) -> Path:
    log = folder / f"{plan}-{display}.log"
    assert session(plan_job(plan), log, display).complete
    return log


def _figures(
    name: str, words: Words, yardstick: Words, settings: Settings, limit: float | None = None, rounds: int = 0
) -> Iterator[Figure]:
    """The shortest wall times: what else the machine does only adds."""
    command = ("-m", "benchd", *words)
    rounds = rounds or (5 if settings.quick else 15)
    taken: dict[str, list[float]] = {"now": [], "yardstick": [], "before": []}
    for number in range(rounds + 1):
        for what, several in taken.items():
            if what == "before" and settings.before is None:
                continue
            root = settings.before if what == "before" and settings.before else ROOT
            shutil.rmtree(settings.folder / "plots", ignore_errors=True)
            (settings.folder / "page.html").unlink(missing_ok=True)  # neither writes over what the other wrote
            began_s = perf_counter()
            # The commit before may know fewer options; all that it prints is printed without.
            asked = tuple(word for word in command if what != "before" or word != "--details")
            python(yardstick if what == "yardstick" else asked, settings.folder, root)
            if number:  # the first round compiles the modules and fills the caches of the file system
                several.append(1000.0 * (perf_counter() - began_s))
    tell(f"pages, {name}: {rounds} rounds")
    value, against = min(taken["now"]), min(taken["yardstick"])
    goal = "" if limit is None else f"<= {limit:g} x"
    met = None if limit is None else value <= limit * against
    yield Figure(name, value, "ms", against, f"`python {' '.join(yardstick)}`, in turn", goal, met)
    if taken["before"]:
        before = min(taken["before"])
        what = f"the same command of {settings.before}, in turn"
        goal, met = ("", None) if limit else ("<= 1/3", value <= MAX_OVER_BEFORE * before)
        yield Figure(f"{name}, over before", value, "ms", before, what, goal, met)
