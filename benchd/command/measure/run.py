"""``benchd run``: a plan on a bench, with a log."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from benchd.command.measure.live import Live, stop_on_signals
from benchd.command.measure.new_log import default_log, fresh, one_line
from benchd.command.messages import say
from benchd.exits import Exit
from benchd.plan.bench_fit import set_manually, sets_manually
from benchd.plan.estimate import moves_before
from benchd.plan.safety import cautions
from benchd.plan.step import CENTRE
from benchd.plan.steps import manual_last
from benchd.run.bench.refuse import refuse_unfit
from benchd.run.job import BenchJob, PlanJob, bench_job, plan_job
from benchd.run.log.records import Body
from benchd.run.session import start


def main(arguments: Namespace) -> Exit:
    """Run it; exit code 0 when complete, 3 when paused."""
    job, bench = plan_job(arguments.plan), bench_job(arguments.bench)
    log = Path(arguments.log) if arguments.log else default_log("logs", arguments.sample)
    code = run_job(job, bench, log, arguments.sample, arguments.note)
    if code is Exit.COMPLETE:
        say(f"Results: benchd results {log}")
    return code


def run_job(
    job: PlanJob, bench: BenchJob, log: Path, sample: str, note: str = "", *, repeat: Body | None = None
) -> Exit:
    """One session from its start: cautions once, progress, and how it ended.

    Raises `InputError` when the log can't be made, and what `benchd.run.session.start` raises.
    """
    refuse_unfit(job.plan, bench)
    log, sample, note = fresh(log), one_line("--sample", sample), one_line("--note", note)
    for caution in cautions(job.plan, job.steps, bench.bench):
        say(f"Caution: {caution}")
    if bench.dialect is not None and bench.dialect.integration is None and any(s.integration_s for s in job.steps):
        say(f"Note: dialect {bench.dialect.meter} can't set an integration time; the meter decides.")
    for need in manual_settings(job, bench):
        say(f"Note: {need}")
    with stop_on_signals() as stop:
        live = Live(log, stop)
        try:
            outcome = start(job, bench, log, live.operator, live.observer, sample=sample, note=note, repeat=repeat)
        except KeyboardInterrupt:
            return live.stopped_at_once()
        return live.finish(outcome)


def manual_settings(job: PlanJob, bench: BenchJob) -> list[str]:
    """What the operator must do during the run, listed before it starts."""
    found: list[str] = []
    if bench.bench.manual_moves:
        moves = sum(moves_before(manual_last(job.steps)))
        blocks = list(dict.fromkeys(step.base for step in job.steps if step.at != CENTRE))
        if blocks:
            found.append(
                f"the operator moves the meter {moves} times ({', '.join(blocks)}); steps without a move are done first"
            )
    if swept := set_manually(job.plan, bench.bench):
        found.append(sets_manually(swept))
    return found
