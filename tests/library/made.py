"""Libraries of any size without measuring: the results of one log, varied, put into the index as a scan would.

The first log is made by the report tests' maker and goes through the whole analysis; the others are its figures times a
drawn factor, under names of invented samples. Beside each stands a small file that the index knows by its size and
time, so that a look at the folder has as much to do as with logs that are all known.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.library import scan
from benchd.library.entry import BudgetPart, Facts, NamedFigure
from benchd.library.store import IndexedFile, Store
from benchd.library.take import facts_of, figures_of
from benchd.report.data.document import Json, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.uncertain import FIELDS
from tests.report.logged import records

BIRDS = ("plover", "curlew", "avocet", "dunlin", "knot", "godwit", "whimbrel", "lapwing", "ruff", "stint")
SIZES = 12
RELATIVE_U = 0.012
AT_ONCE = 250


def results(plan: str = "sdr-standard", **made: Any) -> tuple[Results, Json]:
    """The results of one made log, and the same as JSON."""
    found = analyse(records(plan, simulated=True, **made))
    return found, to_json(found, LogReference("made.log", "0" * 64))


def facts(first: Facts, number: int) -> Facts:
    """The facts of another sample, on another day."""
    model = f"{BIRDS[number % len(BIRDS)]}-{24 + number // len(BIRDS) % SIZES}"
    return first._replace(
        sample=f"{model}/{1 + number // (SIZES * len(BIRDS))}",
        started=f"2026-{1 + number % 12:02d}-{1 + number % 28:02d}T08:00:00.000Z",
        sha256=hashlib.sha256(str(number).encode()).hexdigest(),
    )


def figures(first: Sequence[NamedFigure], number: int, dice: random.Random) -> list[NamedFigure]:
    """The figures of another sample; every 25th has no black to speak of, so that its contrast is a bound."""
    light, dark = dice.lognormvariate(0.0, 0.25), dice.lognormvariate(0.0, 0.35)
    found: list[NamedFigure] = []
    for named in first:
        value = named.figure.value
        if value is None:
            found.append(named)
            continue
        if "contrast" in named.name or named.name.endswith("ratio"):
            value *= light / dark
        elif "black" in named.name:
            value *= dark
        elif named.unit == "cd/m2":
            value *= light
        else:
            value *= dice.lognormvariate(0.0, 0.01 if named.name.startswith("white ") else 0.15)
        u = abs(value) * RELATIVE_U
        spread = {"expanded_uncertainty": u, "standard_uncertainty": u / 2.0, "coverage_factor": 2.0}
        figure = named.figure._replace(value=value, low=value - u, high=value + u, **spread)
        if number % 25 == 7 and named.name == "contrast":
            nothing = dict.fromkeys(FIELDS)
            figure = figure._replace(bound="above", why="black is below the range", **nothing)
        parts = (
            ()
            if figure.bound
            else (BudgetPart("", u / 4.0, 9.0), BudgetPart("meter 0001 scale#0", value * 0.004, None))
        )
        found.append(named._replace(figure=figure, parts=parts if named.headline else ()))
    return found


def fill(folder: Path, count: int, *, seed: int = 1, headlines_only: bool = False) -> Path:
    """An index of ``count`` samples in ``folder``; its path."""
    folder.mkdir(parents=True, exist_ok=True)
    dice = random.Random(seed)
    whole, made = results()
    first = [named for named in figures_of(whole, made) if named.headline or not headlines_only]
    path = folder / scan.INDEX_NAME
    store = Store(path, scan.analysis_version())
    for begin in range(0, count, AT_ONCE):
        with store.changes():
            for number in range(begin, min(count, begin + AT_ONCE)):
                own = facts(facts_of(made), number)
                log = folder / f"{number:05d}.log"
                log.write_text(f"{number}\n")
                stat = log.stat()
                store.put(own, figures(first, number, dice))
                store.put_file(IndexedFile(log.name, stat.st_size, stat.st_mtime_ns, own.sha256, ""))
    store.close()
    return path
