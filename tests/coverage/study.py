"""Many trials of a world, kept in a file, and what they say of each kind of figure: how often held, and how wide."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from tests.coverage.gamuts import AT_FULL
from tests.coverage.trial import Checked, trial
from tests.coverage.worlds import BY_NAME, World

MANY = 500
"""Displays from which a share is judged as it is."""
LEVEL = 0.95

_SINGLE = (
    (re.compile(r"(^|/)preset=[^/]+/"), r"\1*/"),
    (re.compile(r"(^|/)brightness/preset=[^/]+/"), r"\1brightness/*/"),
    (re.compile(r"/(?:code|step)?-?\d+/"), "/*/"),
    (re.compile(r"/r\d+c\d+/"), "/*/"),
    (re.compile(r"/code-\d+-to-\d+/"), "/*/"),
    (re.compile(r"/(normal|inverse)/"), "/*/"),
)

Found = Mapping[str, Sequence[Any]]
"""One trial: kind of figure -> [intervals that held, intervals, bounds that held, bounds, without, [how far off]]."""


@dataclass(slots=True)
class Tally:
    """One kind of figure over all trials of a world.

    ``without``: figures that had a value and neither interval nor bound; they hold nothing. ``off``: of each interval
    the truth's distance from its middle over half its width.
    """

    displays: int = 0
    held: int = 0
    figures: int = 0
    bounds: int = 0
    without: int = 0
    off: list[float] = field(default_factory=list)

    def take(self, one: Sequence[Any]) -> None:
        """The figures of one trial."""
        intervals_held, intervals, bounds_held, bounds, without, off = one
        self.displays += 1
        self.held += intervals_held + bounds_held
        self.figures += intervals + bounds + without
        self.bounds += bounds
        self.without += without
        self.off += off

    @property
    def share(self) -> float:
        """Of all figures, those whose interval or bound held the truth."""
        return self.held / self.figures

    @property
    def width(self) -> float | None:
        """The intervals' width over that of intervals made with the true model of the errors; None without any.

        Of the truth's distances from the middles, in half widths, the 95 % quantile is q: intervals of q times the
        width would hold 95 %. That is what an interval of the same estimate and the same number of readings needs, with
        the errors distributed as they truly are, so the intervals are 1 / q times as wide as the true model's.
        """
        if not self.off:
            return None
        rank = min(len(self.off) - 1, math.ceil(LEVEL * len(self.off)) - 1)
        needed = sorted(self.off)[rank]
        return 1.0 / needed if needed > 0.0 else None


def family(path: str) -> str:
    """Figures of one kind: steps, places and polarities are put together."""
    for pattern, instead in _SINGLE:
        path = pattern.sub(instead, path)
    return path


def summed(found: Iterable[Checked]) -> dict[str, list[Any]]:
    """One trial's figures by kind, as `Found` has them."""
    kinds: dict[str, list[Any]] = {}
    for one in found:
        kind = kinds.setdefault(family(one.path), [0, 0, 0, 0, 0, []])
        if one.kind == "missing":
            kind[4] += 1
            continue
        at = 0 if one.kind == "value" else 2
        kind[at] += one.held
        kind[at + 1] += 1
        if one.kind == "value":
            # Four digits, and never across 1, which the share has already counted.
            off = float(f"{min(one.off, 1e6):.4g}")
            kind[5].append(min(off, 1.0) if one.held else max(off, 1.0001))
    return kinds


def _one(world: str, seed: int) -> dict[str, list[Any]]:
    return summed(trial(BY_NAME[world], seed))


def study(
    world: World, trials: int, file: Path, *, workers: int = 1, tell: Callable[[int], None] = lambda done: None
) -> None:
    """Run the trials that ``file`` does not hold yet; each is a line there once it is done, in the order of seeds."""
    done = sum(1 for _ in lines(file))
    seeds = range(done, trials)
    one = partial(_one, world.name)
    with file.open("a", encoding="utf-8") as stream:
        if workers == 1:
            _write(stream, map(one, seeds), done, tell)
            return
        with ProcessPoolExecutor(workers) as pool:
            _write(stream, pool.map(one, seeds, chunksize=4), done, tell)


def _write(stream: Any, found: Iterable[Found], done: int, tell: Callable[[int], None]) -> None:
    for number, kinds in enumerate(found, done + 1):
        stream.write(json.dumps(kinds, separators=(",", ":")) + "\n")
        stream.flush()
        tell(number)


def lines(file: Path) -> Iterator[Found]:
    """The trials that a file holds; a last line that was cut off is cut off for good."""
    if not file.exists():
        return
    whole = file.read_bytes()
    kept = whole[: whole.rfind(b"\n") + 1]
    if len(kept) < len(whole):
        file.write_bytes(kept)
    for line in kept.splitlines():
        yield json.loads(line)


def tallies(found: Iterable[Found]) -> dict[str, Tally]:
    """By kind of figure."""
    kinds: dict[str, Tally] = {}
    for one in found:
        for kind, counts in one.items():
            kinds.setdefault(kind, Tally()).take(counts)
    return kinds


def short(kind: str, tally: Tally, world: World) -> str:
    """What a kind of figure falls short of in a world, in words; "" where nothing.

    A kind that few displays have, such as full coverage of a far space, is judged with what chance does: two standard
    deviations of a share, and of a quantile, of so many.
    """
    few = 0.0 if tally.displays >= MANY else 2.0 / math.sqrt(tally.displays)
    wrong = []
    if tally.share < world.least - few * math.sqrt(LEVEL * (1.0 - LEVEL)):
        wrong.append(f"held {100.0 * tally.share:.1f} %")
    width = tally.width
    one_sided = kind.endswith(AT_FULL)
    if width is not None and not one_sided and width > world.widest * (1.0 + 2.0 * few):
        wrong.append(f"{width:.2f} times as wide")
    return ", ".join(wrong)
