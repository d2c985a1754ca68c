"""How long a command takes to start, as whole processes, and what it imports on the way."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from time import perf_counter

from benchd.run.job import plan_job
from tests.bench.figures import Figure, Settings, ms, tell
from tests.bench.process import ROOT, python
from tests.run.kill_anywhere import session

MAX_ADDED_MS = 150.0
BARE = "`python -c pass`, the other commands in turn with it"

Words = tuple[str, ...]


def start_up(settings: Settings) -> Iterator[Figure]:
    """``--help``, ``plan`` of two plans and ``results LOG`` over ``python -c pass``, then their imports."""
    log = settings.folder / "quick.log"
    job = plan_job(str(ROOT / "profiles" / "plans" / "quick.yaml"))
    assert session(job, log, "office-lcd").complete
    nothing: Words = ("-c", "pass")
    commands: dict[str, Words] = {
        "--help": ("-m", "benchd", "--help"),
        "plan quick": ("-m", "benchd", "plan", "quick"),
        "plan sdr-standard": ("-m", "benchd", "plan", "sdr-standard"),
        "results LOG": ("-m", "benchd", "results", str(log)),
    }
    rounds = 7 if settings.quick else 25
    taken: dict[Words, list[float]] = {words: [] for words in (nothing, *commands.values())}
    for number in range(rounds + 1):
        for words, times in taken.items():
            began_s = perf_counter()
            python(words, settings.folder)
            if number:  # the first round compiles the modules and fills the caches of the file system
                times.append(perf_counter() - began_s)
    tell(f"start-up: {rounds} rounds")
    bare = ms(taken[nothing])
    for name, words in commands.items():
        value = ms(taken[words])
        added = value - bare
        goal = f"<= {MAX_ADDED_MS:g} ms more"
        notes = (f"{added:.0f} ms more; medians of {rounds}; slowest imports: {_slowest(words, settings.folder)}",)
        yield Figure(f"start-up, {name}", value, "ms", bare, BARE, goal, added <= MAX_ADDED_MS, notes)
    light = {
        "--help": ("numpy", "yaml", "pydantic", "serial", "pyglet", "colour"),
        "plan sdr-standard": ("numpy", "serial", "pyglet", "email", "colour"),
        "results LOG": ("pydantic", "yaml", "serial", "pyglet", "colour"),
    }
    for name, unwanted in light.items():
        loaded = {module.partition(".")[0] for module, _ in _imports(commands[name], settings.folder)}
        found = sorted(loaded.intersection(unwanted))
        notes = (f"not wanted: {', '.join(unwanted)}; found: {', '.join(found) or 'none'}",)
        yield Figure(f"imports, {name}", len(found), "unwanted", goal="none", met=not found, notes=notes)


def _imports(words: Words, folder: Path) -> list[tuple[str, int]]:
    """Every module that the command imports, with its own time in microseconds."""
    told = python(("-X", "importtime", *words), folder).stderr
    rows = [
        line.removeprefix("import time:").split("|") for line in told.splitlines() if line.startswith("import time:")
    ]
    return [(row[2].strip(), int(row[0])) for row in rows if row[0].strip().isdigit()]


def _slowest(words: Words, folder: Path) -> str:
    """The packages that take longest, each with its submodules."""
    by_package: dict[str, int] = {}
    for module, own_us in _imports(words, folder):
        package = module.partition(".")[0]
        by_package[package] = by_package.get(package, 0) + own_us
    slowest = sorted(by_package.items(), key=lambda item: -item[1])[:4]
    return ", ".join(f"{package} {own_us / 1000.0:.0f} ms" for package, own_us in slowest)
