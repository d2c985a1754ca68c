"""Results from long logs: time against the bare parsing of the lines, peak memory, and how both grow."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from math import log

from tests.bench.figures import Figure, Settings, tell
from tests.bench.made_logs import SHAPES, Shape, make_log
from tests.bench.process import python

SIZES = (10_000, 100_000, 1_000_000)
QUICK_SIZES = SIZES[:2]
MAX_RATIO = 2.0
MAX_MORE_EXPONENT = 0.05
"""Above that of the bare parsing, which is linear whatever else the machine does; 1.26 times in two decades."""
MAX_GROWTH_MB = 16.0
PARSE = "json.loads on each line of the same log, in the same process in turn"


@dataclass(frozen=True, slots=True)
class Timed:
    """One log: the best seconds of all rounds (what else the machine did only adds), and peaks of memory."""

    readings: int
    steps: int
    analyse_s: float
    parse_s: float
    before_mb: float
    after_mb: float


def results(settings: Settings) -> Iterator[Figure]:
    """Both shapes, all sizes."""
    for shape in SHAPES:
        timed = []
        for size in QUICK_SIZES if settings.quick else SIZES:
            timed.append(_timed(shape, size, settings))
            yield _time(shape, size, timed[-1])
        yield _growth(shape, timed)
        yield _memory(shape, timed)


def _timed(shape: Shape, size: int, settings: Settings) -> Timed:
    path = settings.folder / f"made-{size}.log"
    make_log(shape, size, path)
    # Short logs need more rounds: at 10^4 readings one takes a tenth of a second.
    rounds = 15 if size <= SIZES[0] else 7 if size <= SIZES[1] else 3
    told = json.loads(python(("-m", "tests.bench.results_child", str(path), str(rounds)), settings.folder).stdout)
    path.unlink()
    tell(f"results, {shape}: {size} readings")
    told |= {key: min(told[key]) for key in ("analyse_s", "parse_s")}
    return Timed(**told)


def _time(shape: Shape, size: int, timed: Timed) -> Figure:
    name = f"results, {shape}, 10^{len(str(size)) - 1} readings"
    value, yardstick = timed.analyse_s, timed.parse_s
    each_us = 1e6 * value / timed.readings
    notes = (f"{timed.readings} readings in {timed.steps} steps; {each_us:.1f} µs a reading; SIMULATED log",)
    return Figure(name, value, "s", yardstick, PARSE, f"<= {MAX_RATIO:g} x", value <= MAX_RATIO * yardstick, notes)


def _growth(shape: Shape, timed: list[Timed]) -> Figure:
    """The exponent p in time ~ readings^p, from the shortest log to the longest."""
    first, last = timed[0], timed[-1]
    span = log(last.readings / first.readings)
    exponent = log(last.analyse_s / first.analyse_s) / span
    bare = log(last.parse_s / first.parse_s) / span
    return Figure(
        f"results, {shape}, growth of time",
        exponent,
        "",
        bare,
        "the same exponent of the bare parsing",
        f"<= {MAX_MORE_EXPONENT:g} more",
        exponent - bare <= MAX_MORE_EXPONENT,
        (f"time goes as readings to this power, from {first.readings} to {last.readings} readings; 1 is linear",),
    )


def _memory(shape: Shape, timed: list[Timed]) -> Figure:
    """Few steps: the same memory whatever the length. Many steps: results hold a line for each, and no more."""
    first, last = timed[0], timed[-1]
    name = f"results, {shape}, peak memory"
    peaks = ", ".join(f"{one.after_mb:.0f} MB at {one.readings} readings" for one in timed)
    note = f"{peaks}; the imports alone {last.before_mb:.0f} MB"
    against = f"the peak at {first.readings} readings"
    if shape == "few steps":
        met = last.after_mb - first.after_mb <= MAX_GROWTH_MB
        return Figure(name, last.after_mb, "MB", first.after_mb, against, f"<= {MAX_GROWTH_MB:g} MB more", met, (note,))
    each_kb = 1024.0 * (last.after_mb - first.after_mb) / (last.steps - first.steps)
    notes = (note, f"{each_kb:.2f} KB a step: every step is a line of the results, so no bound is possible here")
    return Figure(name, last.after_mb, "MB", first.after_mb, against, notes=notes)
