"""A figure with its yardstick, the facts of the machine, and the table that shows them."""

from __future__ import annotations

import json
import os
import platform
import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import Any

HIGH_LOAD_PER_CORE = 0.5
IN_MEMORY = ("tmpfs", "ramfs", "devtmpfs")


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table.

    ``value`` and ``yardstick`` are in ``unit`` and come from the same run; ``value`` None: it can't be had here, and
    the first of ``notes`` says why. ``met`` None: the figure has no goal of its own, it explains another one.
    """

    name: str
    value: float | None
    unit: str = ""
    yardstick: float | None = None
    against: str = ""  # what the yardstick is
    goal: str = ""
    met: bool | None = None
    notes: tuple[str, ...] = ()

    @property
    def ratio(self) -> float | None:
        """Value over yardstick; None without one of them."""
        return self.value / self.yardstick if self.value is not None and self.yardstick else None

    @property
    def verdict(self) -> str:
        """``met``, ``MISSED``, ``not measured`` or nothing."""
        if self.value is None:
            return "not measured"
        return "" if self.met is None else "met" if self.met else "MISSED"


@dataclass(frozen=True, slots=True)
class Settings:
    """What was asked for: where logs are written, whether rough figures in short time will do.

    ``before``: another checkout, whose commands are run in turn with ours.
    """

    folder: Path
    quick: bool = False
    before: Path | None = None


def not_measured(name: str, why: str) -> Figure:
    """A figure that this machine can't give."""
    return Figure(name, None, notes=(why,))


@dataclass(frozen=True, slots=True)
class Machine:
    """What the figures depend on. ``load`` is the system's load average over one minute, before the first figure."""

    cores: int
    python: str
    system: str
    load: float
    folder: str  # where logs are written
    file_system: str

    @property
    def warnings(self) -> tuple[str, ...]:
        """Why the figures may be worth less than they look."""
        found: list[str] = []
        if self.load > HIGH_LOAD_PER_CORE * self.cores:
            found.append(
                f"the load average is {self.load:.2f} on {self.cores} cores: something else works here, and every "
                "time below may be too long; run this again on a quiet machine"
            )
        if self.file_system in IN_MEMORY:
            found.append(
                f"{self.folder} is kept in memory ({self.file_system}), where fsync costs nothing; name a folder on a "
                "disk with --folder"
            )
        return tuple(found)


def this_machine(folder: Path) -> Machine:
    """The facts, now."""
    version = f"{platform.python_implementation()} {platform.python_version()}"
    system = f"{platform.system()} {platform.release()} {platform.machine()}"
    cores = len(os.sched_getaffinity(0))
    return Machine(cores, version, system, os.getloadavg()[0], str(folder), file_system(folder))


def file_system(folder: Path) -> str:
    """The kind of the file system below ``folder``, such as ``ext4``; ``unknown`` where the system does not tell."""
    device = f"{os.major(folder.stat().st_dev)}:{os.minor(folder.stat().st_dev)}"
    try:
        lines = Path("/proc/self/mountinfo").read_text().splitlines()
    except OSError:
        return "unknown"
    # After proc_pid_mountinfo(5): the third field is the device, the first after " - " the type.
    kinds = [line.partition(" - ")[2].split()[0] for line in lines if line.split()[2] == device]
    return kinds[-1] if kinds else "unknown"


def ms(seconds: Iterable[float]) -> float:
    """The median of ``seconds``, in milliseconds."""
    return 1000.0 * median(seconds)


def percentile(values: Sequence[float], percent: float) -> float:
    """The value below which ``percent`` of all lie (nearest rank)."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(percent / 100.0 * len(ordered)))]


def render(machine: Machine, figures: Sequence[Figure], load_after: float) -> str:
    """The table as text, the notes below it."""
    head = ("figure", "value", "yardstick", "ratio", "goal", "")
    rows = [head, *(_row(figure) for figure in figures)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    lines = [
        f"{machine.cores} cores, {machine.python}, {machine.system}",
        f"load average {machine.load:.2f} before, {load_after:.2f} after",
        f"logs in {machine.folder} ({machine.file_system})",
        *(f"WARNING: {warning}" for warning in machine.warnings),
        "",
    ]
    for row in rows:
        # Names to the left, numbers to the right.
        padded = [
            cell.rjust(width) if n in (1, 2, 3) else cell.ljust(width)
            for n, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(padded).rstrip())
        if row is head:
            lines.append("  ".join("-" * width for width in widths))
    for figure in figures:
        if figure.notes or figure.against:
            lines += ["", figure.name]
            if figure.against:
                lines.append(f"  yardstick: {figure.against}")
            lines += [f"  {note}" for note in figure.notes]
    return "\n".join(lines) + "\n"


def _row(figure: Figure) -> tuple[str, ...]:
    ratio = "" if figure.ratio is None else f"{figure.ratio:.3g}"
    value, yardstick = (_amount(number, figure.unit) for number in (figure.value, figure.yardstick))
    return figure.name, value, yardstick, ratio, figure.goal, figure.verdict


def _amount(number: float | None, unit: str) -> str:
    if number is None:
        return ""
    digits = f"{number:.0f}" if abs(number) >= 1000 else f"{number:.3g}"
    return f"{digits} {unit}".rstrip()


def to_json(machine: Machine, figures: Sequence[Figure], load_after: float) -> str:
    """The same as JSON."""
    told: dict[str, Any] = {
        "schema": "benchd.bench/1",
        "machine": {**asdict(machine), "load_after": load_after, "warnings": list(machine.warnings)},
        "figures": [{**asdict(figure), "ratio": figure.ratio} for figure in figures],
    }
    return json.dumps(told, indent=1, ensure_ascii=False) + "\n"


def tell(text: str) -> None:
    """Progress, to stderr."""
    print(text, file=sys.stderr, flush=True)
