"""``benchd run``: a plan on a bench, with a log."""

from __future__ import annotations

import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.live import Live, default_log, stop_on_signals
from benchd.exits import Exit
from benchd.plan.safety import cautions
from benchd.run.job import BenchJob, PlanJob, bench_job, plan_job
from benchd.run.session import start


def main(arguments: Namespace) -> Exit:
    """Run it; exit code 0 when complete, 3 when paused."""
    job, bench = plan_job(arguments.plan), bench_job(arguments.bench)
    log = Path(arguments.log) if arguments.log else default_log("logs", arguments.sample)
    code = run_job(job, bench, log, arguments.sample, arguments.note)
    if code is Exit.COMPLETE:
        print(f"Results: benchd results {log}", file=sys.stderr)
    return code


def run_job(job: PlanJob, bench: BenchJob, log: Path, sample: str, note: str = "") -> Exit:
    """One session from its start: cautions once, progress, and how it ended."""
    for caution in cautions(job.plan, job.steps, bench.bench):
        print(f"Caution: {caution}", file=sys.stderr)
    if bench.dialect is not None and bench.dialect.integration is None and any(s.integration_s for s in job.steps):
        print(f"Note: dialect {bench.dialect.meter} can't set an integration time; the meter decides.", file=sys.stderr)
    live = Live(log)
    with stop_on_signals() as stop:
        outcome = start(job, bench, log, sample=sample, note=note, stop=stop, ask=live.ask(), observer=live.observer)
        return live.finish(outcome)
