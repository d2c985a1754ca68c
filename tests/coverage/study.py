"""Many trials, and for each kind of figure the share of them in which the interval of 95 % held the truth."""

from __future__ import annotations

import math
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from tests.coverage.gamuts import is_one_sided
from tests.coverage.trial import Checked, trial

LEAST, MOST = 0.93, 0.97
FIRST_SEED = 4000
MANY = 500
"""Trials from which a share is judged as it is."""

_SINGLE = (
    (re.compile(r"(^|/)preset=[^/]+/"), r"\1*/"),
    (re.compile(r"(^|/)brightness/preset=[^/]+/"), r"\1brightness/*/"),
    (re.compile(r"/(?:code|step)?-?\d+/"), "/*/"),
    (re.compile(r"/r\d+c\d+/"), "/*/"),
    (re.compile(r"/code-\d+-to-\d+/"), "/*/"),
)


@dataclass(slots=True)
class Tally:
    """One kind of figure over all trials."""

    trials: int = 0
    held: int = 0
    below: int = 0
    figures: int = 0
    widths: list[float] = field(default_factory=list)

    @property
    def share(self) -> float:
        """Of all figures, those whose interval held the truth."""
        return self.held / self.figures


def family(path: str) -> str:
    """Figures of one kind: steps and places are put together."""
    for pattern, instead in _SINGLE:
        path = pattern.sub(instead, path)
    return path


def _one(seed: int) -> list[Checked]:
    with tempfile.TemporaryDirectory(prefix="coverage-") as folder:
        return list(trial(seed, Path(folder)))


def study(trials: int, *, workers: int = 1, tell: Callable[[int], None] = lambda done: None) -> dict[str, Tally]:
    """Tallies by kind of figure, in the order of a log."""
    seeds = range(FIRST_SEED, FIRST_SEED + trials)
    tallies: dict[str, Tally] = {}
    if workers == 1:
        for number, seed in enumerate(seeds, 1):
            _count(tallies, _one(seed))
            tell(number)
        return tallies
    with ProcessPoolExecutor(workers) as pool:
        for number, found in enumerate(pool.map(_one, seeds, chunksize=4), 1):
            _count(tallies, found)
            tell(number)
    return tallies


def _count(tallies: dict[str, Tally], found: Iterable[Checked]) -> None:
    met = set()
    for one in found:
        tally = tallies.setdefault(family(one.path), Tally())
        tally.figures += 1
        tally.held += one.held
        tally.below += one.below
        tally.widths.append(one.width)
        met.add(family(one.path))
    for name in met:
        tallies[name].trials += 1


def out_of_range(tallies: dict[str, Tally]) -> list[str]:
    """Kinds whose share is not within 93 to 97 %; of those that can be missed on one side only, not above 93 %.

    One that only a few trials have, such as a display that covers all of a far space, is judged with what chance does.
    """
    return [
        name
        for name, tally in tallies.items()
        if not LEAST - chance(tally) <= tally.share <= (1.0 if is_one_sided(name) else MOST + chance(tally))
    ]


def chance(tally: Tally) -> float:
    """Two standard deviations of the share of so few trials; 0 from `MANY` on."""
    return 0.0 if tally.trials >= MANY else 2.0 * math.sqrt(0.95 * 0.05 / tally.trials)


def table(tallies: dict[str, Tally]) -> Sequence[tuple[str, ...]]:
    """Rows of text: kind, trials, figures, share held, truth below, truth above, width."""
    rows = [("figure", "trials", "figures", "held", "truth below", "truth above", "median width")]
    for name, tally in tallies.items():
        above = tally.figures - tally.held - tally.below
        rows.append(
            (
                name,
                str(tally.trials),
                str(tally.figures),
                f"{100.0 * tally.share:.1f} %",
                f"{100.0 * tally.below / tally.figures:.1f} %",
                f"{100.0 * above / tally.figures:.1f} %",
                _percent(median(tally.widths)),
            )
        )
    return rows


def _percent(width: float) -> str:
    if width <= 1e-9 or not math.isfinite(width):
        return "-"
    digits = max(0, 1 - math.floor(math.log10(100.0 * width)))
    return f"{100.0 * width:.{digits}f} %"


def workers() -> int:
    """Processors of this machine."""
    return os.cpu_count() or 1
