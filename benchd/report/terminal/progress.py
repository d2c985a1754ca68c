"""What is said while a run goes on: one line that is rewritten, or one line a block without a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchd.report.digits import number
from benchd.report.words import SIMULATED, count, paint, span

BAR = 16


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a run is. Everything that is not known yet is None."""

    block: str  # name of the block under way; "" for the warm-up
    step: int  # the step under way, counted from 1 within its block
    steps: int  # steps of this block
    what: str  # what is on the screen and where: "code 166", "r2c3 white"; see `what`
    done: float  # share of the run's time that is over, 0 to 1
    left_s: float | None  # bench time still to go
    faults: int
    log: str
    left_maximum_s: float | None = None  # where it is open, as in a warm-up: the most; ``left_s`` is the least then
    luminance_cd_m2: float | None = None  # of the last reading
    cct_k: float | None = None
    status: str = "ok"  # of the last reading
    simulated: bool = False
    ends: str = ""  # time of the clock, as `benchd.local_time.end_time` gives it; "" where bench time is another one


_SAID = {
    "code": "code {code}",
    "polarity": "{level} of {polarity} checkerboard",
    "level": "{level}",
    "name": "{name}",
    "hue": "{hue} at {level_cd_m2:g} cd/m2",
    "area_percent": "window of {area_percent:g} %",
    "distance_percent": "black, the window {distance_percent:g} % to the {side}",
    "cells": "{part} of a {cells} x {cells} board",
    "number": "no. {number}",  # the reference patch, a reading with the cap on: one of several
    "part": "{part}",
}
"""A label -> what is said of a step that has it; the first counts."""


def what(labels: Mapping[str, str | int | float], place: str = "centre") -> str:
    """What a step measures, in a few words, from its labels: ``code 166``, ``r2c3 white``, ``r1c4 inverse``."""
    said = next((words.format(**labels) for label, words in _SAID.items() if label in labels), "")
    return " ".join(filter(None, ("" if place == "centre" else place, said))) or "warm-up"


def progress_line(progress: Progress, *, width: int = 120, colour: bool = False) -> str:
    """One line for a terminal, at most ``width`` signs (colour codes not counted), no line end.

    Where the terminal is narrow, parts are left out, the least needed first: log, bar, colour temperature, the time of
    the end, what is left, the step. No reading stands without its patch; the share of the time and the faults stay.
    """
    faults = f"faults {progress.faults}"
    parts = {
        "simulated": SIMULATED if progress.simulated else "",
        "block": progress.block or "warm-up",
        "step": f"step {progress.step}/{progress.steps}" if progress.steps > 1 else "",
        "what": progress.what if progress.what != (progress.block or "warm-up") else "",
        "luminance": _luminance(progress),
        "cct": f"{number(progress.cct_k, 'K')} K" if progress.cct_k is not None else "",
        "bar": bar(progress.done),
        "percent": f"time {int(100 * _share(progress.done))} %",
        "left": _left(progress),
        "ends": f"ends {progress.ends}" if progress.ends else "",
        "faults": faults,
        "log": f"log {progress.log}",
    }
    droppable = ["log", "bar", "cct", "ends", "left", "step", "luminance", "what"]
    while droppable and len(_joined(parts)) > width:
        parts[droppable.pop(0)] = ""
    line = _joined(parts)[:width]
    if progress.faults:
        line = line.replace(faults, paint(faults, "yellow", colour))
    if progress.simulated:
        line = line.replace(SIMULATED, paint(SIMULATED, "yellow", colour), 1)
    return line


def block_line(progress: Progress) -> str:
    """One line when a block is complete, for a run without a terminal (a service, a file of output)."""
    name = progress.block or "warm-up"
    left = f", {_left(progress)}" if progress.left_s is not None else ""
    left += f", ends {progress.ends}" if progress.ends else ""
    first = f"{SIMULATED}  " if progress.simulated else ""
    percent = int(100 * _share(progress.done))
    return (
        f"{first}{name} done: {count(progress.steps, 'step')}, {percent} % of the time{left}, "
        f"{count(progress.faults, 'fault')}"
    )


def _left(progress: Progress) -> str:
    if progress.left_s is None:
        return ""
    return f"{span(progress.left_s, progress.left_maximum_s or progress.left_s)} left"


def _luminance(progress: Progress) -> str:
    if progress.status in ("under", "over"):
        return f"{progress.status} range"
    if progress.luminance_cd_m2 is None:
        return ""
    return f"{number(progress.luminance_cd_m2, 'cd/m2')} cd/m2" + (" unstable" if progress.status == "unstable" else "")


def _share(done: float) -> float:
    return min(1.0, max(0.0, done))


def bar(done: float) -> str:
    """``[=====>          ]`` of a share of 0 to 1."""
    filled = int(BAR * _share(done))
    head = ">" if 0 < filled < BAR else ""
    return f"[{('=' * (filled - len(head)) + head).ljust(BAR)}]"


def _joined(parts: Mapping[str, str]) -> str:
    return "  ".join(part for part in parts.values() if part)
