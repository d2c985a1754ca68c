"""``benchd run``, ``check``, ``demo`` and ``resume``: a plan on a bench, with a log; new, or gone on with."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from benchd import interrupt
from benchd.clock import StopRequest
from benchd.command.log_names import as_typed, default_log, log_named, short_name
from benchd.command.measure.ask_conditions import conditions_for
from benchd.command.measure.live import Live, stop_on_signals, stops_at_once
from benchd.command.measure.log_cautions import say_cautions_of
from benchd.command.messages import coloured, heed, say
from benchd.command.output import fresh, one_line, print_as, sample_name
from benchd.errors import BenchdError, InputError, JournalError, nearby
from benchd.exits import Exit
from benchd.plan.bench_fit import operator_needs
from benchd.plan.safety import cautions
from benchd.profile.conditions_model import entered
from benchd.report.words import printable
from benchd.run.bench.known_screen import refuse_unfit
from benchd.run.bench.recorded_conditions import Entered
from benchd.run.job import BenchJob, PlanJob, bench_job, plan_job
from benchd.run.session import resume, start

if TYPE_CHECKING:
    from benchd.measuring_conditions import Value
    from benchd.run.log.records import Body
    from benchd.run.operator_checks import Operator
    from benchd.run.rig import Outcome
    from benchd.run.session import Observer

NOTHING_GIVEN: Mapping[str, Value] = MappingProxyType({})
SAMPLES = {"office": "plover-27/demo", "wide": "curlew-32/demo", "emissive": "avocet-27/demo"}
SAMPLES |= {"hdr-lcd": "godwit-32/demo", "hdr-zone-lcd": "whimbrel-32/demo", "hdr-emissive": "phalarope-31/demo"}
"""Invented displays of an invented scenario."""


def main_run(arguments: Namespace) -> Exit:
    """Run a plan; exit code 0 when complete, 3 when paused."""
    job, bench = plan_job(arguments.plan), bench_job(arguments.bench)
    log = Path(arguments.log) if arguments.log else default_log(arguments.sample, f"unnamed-{bench.bench.bench}")
    given = entered(arguments.condition)
    return _said(run_job(job, bench, log, arguments.sample, arguments.note, given=given, ask=True), log)


def main_check(arguments: Namespace) -> Exit:
    """Run the quick plan and print white, black, contrast and centre chromaticity."""
    bench = bench_job(arguments.bench)
    log = Path(arguments.log) if arguments.log else default_log(arguments.sample, f"check-{bench.bench.bench}")
    code = run_job(plan_job("quick"), bench, log, arguments.sample)
    if code is not Exit.COMPLETE:
        return code
    from benchd.command.show.results import document_of, results_of, summary_text  # the bench need not wait for numpy

    results, reference = results_of(log)
    return print_as(
        arguments.format,
        lambda: document_of(results, reference),
        lambda: summary_text(results, reference, colour=coloured(sys.stdout), check=True),
    )


def main_demo(arguments: Namespace) -> Exit:
    """Measure an invented display on the simulated bench and print the results."""
    log = Path(arguments.log) if arguments.log else default_log(SAMPLES[arguments.display], "demo")
    hdr = arguments.display.startswith("hdr-")
    if hdr and arguments.night:
        raise InputError("the plan of the night is an SDR plan; take --night or an HDR display")
    plan = "hdr-standard" if hdr else "night" if arguments.night else "sdr-standard"
    bench = bench_job(f"sim-{arguments.display}")
    code = run_job(plan_job(plan), bench, log, SAMPLES[arguments.display], "invented sample")
    if code is not Exit.COMPLETE:
        return code
    from benchd.command.show.results import document_of, results_of, summary_text

    results, reference = results_of(log)
    print_as(
        arguments.format,
        lambda: document_of(results, reference),
        lambda: summary_text(results, reference, colour=coloured(sys.stdout)),
    )
    if arguments.format == "text":
        name = as_typed(short_name(log))
        say(f"\nEvery figure with its interval: benchd results {name} --details")
        say(f"A page with plots: benchd report {name} -o page.html")
        say("A plan of your own to start from: benchd new plan mine")
    return code


def main_resume(arguments: Namespace) -> Exit:
    """Go on with a log, from the file alone, or with a job of the service.

    A part of the bench that does not answer leaves the log as resumable as it was.
    """
    from benchd.command.service.queue import JOB_ID, act  # a run of one's own talks to no service

    if JOB_ID.match(arguments.log) and not Path(arguments.log).exists():
        if arguments.condition:
            raise InputError("--condition is for a log that is resumed here, not for a job; leave it away")
        arguments.job = arguments.log
        return act(arguments, "resume", "Job {id} goes on when it is its turn. See: benchd watch")
    log = Path(log_named(arguments.log))
    if not log.exists():
        what = nearby(log, "name a log, or a job of the service such as j3 (see: benchd jobs)", suffix=".log")
        raise InputError(f"there is no log {log}; {what}")
    try:
        return _said(resume_log(log, entered(arguments.condition)), log)
    except (InputError, JournalError):
        raise
    except BenchdError as error:
        say(f"Still paused: {error}\nGo on with: benchd resume {as_typed(log)}")
        return Exit.PAUSED


def run_job(
    job: PlanJob,
    bench: BenchJob,
    log: Path,
    sample: str,
    note: str = "",
    *,
    repeat: Body | None = None,
    given: Mapping[str, Value] = NOTHING_GIVEN,
    ask: bool = False,
) -> Exit:
    """One session from its start: cautions once, progress, and how it ended. ``given``: conditions from the command
    line; ``ask``: for those that nothing states, once.

    Raises `InputError` when the log can't be made, and what `benchd.run.session.start` raises.
    """
    refuse_unfit(job.plan, bench, job.document)
    log, sample, note = fresh(log), sample_name(sample), one_line("--note", note)
    heed(cautions(job.plan, job.steps, bench.bench))
    if bench.dialect is not None and bench.dialect.integration is None and any(s.integration_s for s in job.steps):
        say(f"Note: dialect {bench.dialect.meter} can't set an integration time; the meter decides.")
    for need in operator_needs(job.plan, job.steps, bench.bench):
        say(f"Note: {need}")
    known = conditions_for(job.plan, bench.bench, sample, given, ask=ask)

    def begin(operator: Operator, observer: Observer) -> Outcome:
        return start(*(job, bench, log, operator, observer), sample=sample, note=note, repeat=repeat, entered=known)

    return _session(log, begin)


def resume_log(log: Path, given: Mapping[str, Value] = NOTHING_GIVEN) -> Exit:
    """One session more of a log. Raises what `benchd.run.session.resume` raises."""
    stops_at_once(str(log))
    say_cautions_of(log)
    now = {key: Entered(value) for key, value in given.items()}
    return _session(log, lambda operator, observer: resume(log, operator, observer, entered=now))


def _session(log: Path, begin: Callable[[Operator, Observer], Outcome]) -> Exit:
    """One session with its progress and its operator at the terminal, and how it ended."""
    stop = StopRequest()
    live = Live(log, stop)
    with stop_on_signals(stop, live.is_over):
        code = live.finish(begin(live.operator, live.observer))
        if code is Exit.COMPLETE:
            interrupt.on_ctrl_c(f"Stopped by Ctrl-C. The log is complete: benchd results {printable(str(log))}")
        else:
            interrupt.on_ctrl_c("", code)  # what there is to say was said
    return code


def _said(code: Exit, log: Path) -> Exit:
    if code is Exit.COMPLETE:
        say(f"Results: benchd results {as_typed(log)}")
    return code
