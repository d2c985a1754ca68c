"""The project's figures, each beside its yardstick from the same run. Not a test: nothing here can fail.

    python -m tests.bench                       every benchmark (about nine minutes), as a table
    python -m tests.bench --quick               fewer rounds and no log of 10^6 readings (about two minutes)
    python -m tests.bench --only night          one benchmark; may be given again for more
    python -m tests.bench --json                the same as JSON, on stdout; progress goes to stderr
    python -m tests.bench --list                the names of the benchmarks
    python -m tests.bench --folder ~/scratch    write logs there: fsync must be measured on the disk that matters

A figure is worth as much as the machine is quiet: the table says the load and warns when it is high. The step through
the real window needs a virtual X server (Debian packages xvfb, libgl1-mesa-dri); without it that line says so. The
orchestrator beside benchd is the package of the extra `bench`; without it that line says so too. Up to
400 MB are written in the folder, and taken away again.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from benchd.errors import BenchdError
from tests.bench.adaptive import adaptive
from tests.bench.colours import colours
from tests.bench.figures import IN_MEMORY, Figure, Settings, file_system, not_measured, render, this_machine, to_json
from tests.bench.library import library
from tests.bench.night import night
from tests.bench.orchestrator import orchestrator
from tests.bench.pages import pages
from tests.bench.process import Failed
from tests.bench.results import results
from tests.bench.service import service
from tests.bench.soak import soak
from tests.bench.start_up import start_up
from tests.bench.step import step_in_process, step_window
from tests.bench.stopwatch import Spoiled
from tests.bench.sweep_night import sweep_night

BENCHMARKS: dict[str, tuple[str, Callable[[Settings], Iterator[Figure]]]] = {
    "step-window": ("software time of a step through the real window and the serial driver", step_window),
    "step-in-process": ("software time of a step in the loop and the log alone", step_in_process),
    "start-up": ("--help, plan and results, as whole processes, and what they import", start_up),
    "results": ("results from logs of 10^4 to 10^6 readings: time, growth, memory", results),
    "pages": ("results with all intervals, pages and plots: over imports, and over another checkout", pages),
    "colours": ("10^6 colour differences beside colour-science, and the results of a whole display", colours),
    "night": ("the demo's night on virtual time, as a whole process", night),
    "sweep-night": ("a night of 3 presets x 11 brightness settings, as a whole process", sweep_night),
    "library": ("5 000 samples ranked and filtered, as whole processes, over their start-up", library),
    "soak": ("memory and file handles over 10^6 readings in process, and over 20 000 through processes", soak),
    "adaptive": ("plans read to a precision: bench time over the physical limit, and over a fixed script", adaptive),
    "service": ("a step of a run through the service, over the same in the foreground", service),
    "orchestrator": ("a step of the loop beside one of a general orchestrator (extra: bench)", orchestrator),
}


def main(arguments: list[str] | None = None) -> int:
    """Measure what is asked for and print it; 0 whatever the figures are."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--only", action="append", choices=BENCHMARKS, metavar="NAME", help="this one (see --list)")
    parser.add_argument("--quick", action="store_true", help="rough figures in short time")
    parser.add_argument("--json", action="store_true", help="JSON instead of the table")
    parser.add_argument("--list", action="store_true", help="list the benchmarks, measure nothing")
    parser.add_argument("--before", type=Path, metavar="DIR", help="another checkout, whose pages are made in turn")
    parser.add_argument("--folder", type=Path, help="where logs are written for the time of the benchmark")
    asked = parser.parse_args(arguments)
    if asked.list:
        for name, (about, _) in BENCHMARKS.items():
            print(f"{name:16} {about}")
        return 0
    where = (asked.folder or _on_disk()).resolve()
    if not where.is_dir():
        parser.error(f"there is no folder {where}; make it, or name another one")
    with tempfile.TemporaryDirectory(prefix="benchd-bench-", dir=where) as folder:
        machine = this_machine(Path(folder))
        settings = Settings(Path(folder), asked.quick, asked.before and asked.before.resolve())
        figures = [figure for name in asked.only or BENCHMARKS for figure in _measured(name, settings)]
    form = to_json if asked.json else render
    sys.stdout.write(form(machine, figures, os.getloadavg()[0]))
    return 0


def _measured(name: str, settings: Settings) -> Iterator[Figure]:
    """The figures of one benchmark; one that breaks down says why, and the others go on."""
    try:
        yield from BENCHMARKS[name][1](settings)
    except (BenchdError, Spoiled, Failed) as error:
        yield not_measured(name, str(error))


def _on_disk() -> Path:
    """The folder for temporary files, unless it is kept in memory: then the working folder."""
    usual = Path(tempfile.gettempdir())
    return Path.cwd() if file_system(usual) in IN_MEMORY else usual


if __name__ == "__main__":
    sys.exit(main())
