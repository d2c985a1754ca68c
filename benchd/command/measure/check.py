"""``benchd check``: white, black, contrast and centre chromaticity in under a minute."""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.measure.new_log import default_log
from benchd.command.measure.run import run_job
from benchd.exits import Exit
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile

PLAN = "quick"


def main(arguments: Namespace) -> Exit:
    """Run the quick plan and print its short form."""
    log = Path(arguments.log) if arguments.log else default_log("checks")
    code = run_job(plan_job(PLAN), bench_job(arguments.bench), log, arguments.sample)
    if code is not Exit.COMPLETE:
        return code
    from benchd.command.show.results import print_json, results_of  # the bench need not wait for the numbers' library
    from benchd.report.terminal.check_text import render_check

    results, reference = results_of(log)
    if arguments.format == "json":
        print_json(results, reference)
    else:
        print(render_check(results, log=reference, bench_s=bench_time_s(log), colour=sys.stdout.isatty()), end="")
    return code


def bench_time_s(log: Path) -> float:
    """Bench time from the first record of a log of one session to its last."""
    times_ns = [record.mono_ns for record in LogFile(log).records()]
    return (times_ns[-1] - times_ns[0]) / 1e9
