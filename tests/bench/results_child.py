"""Results of one log against the bare parsing of its lines, in a process of its own for its peak memory.

    python -m tests.bench.results_child LOG ROUNDS

Prints one JSON line: seconds of each round, and the peak memory before and after the first results.
"""

from __future__ import annotations

import json
import resource
import sys
from pathlib import Path
from time import perf_counter
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.run.log.journal import LogFile


def parse(path: Path) -> None:
    """The yardstick: what anybody must pay who reads these lines as JSON."""
    with path.open(encoding="utf-8") as stream:
        for line in stream:
            json.loads(line)


def peak_mb() -> float:
    """The most memory that this process had so far.

    From the kernel's mark of this program (proc_pid_status(5)): the peak that getrusage(2) tells is handed down from
    the process that started this one. Elsewhere than on Linux that one must do.
    """
    try:
        status = Path("/proc/self/status").read_text()
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")) / 1024.0


def main(path: Path, rounds: int) -> dict[str, Any]:
    """Both in turn, ``rounds`` times."""
    before_mb, after_mb = peak_mb(), 0.0
    analyse_s: list[float] = []
    parse_s: list[float] = []
    for number in range(rounds):
        began_s = perf_counter()
        results = analyse(LogFile(path).records())
        analyse_s.append(perf_counter() - began_s)
        if not number:
            after_mb = peak_mb()
        readings, steps = results.readings, results.steps_done
        del results  # or its objects would make the collector's rounds longer for the yardstick
        began_s = perf_counter()
        parse(path)
        parse_s.append(perf_counter() - began_s)
    return {
        "readings": readings,
        "steps": steps,
        "analyse_s": analyse_s,
        "parse_s": parse_s,
        "before_mb": before_mb,
        "after_mb": after_mb,
    }


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]))))
