"""``benchd plan``: what a plan would do. Opens no port and no window."""

from __future__ import annotations

import sys
from argparse import Namespace
from typing import TYPE_CHECKING, Any

from benchd.command.messages import coloured, say
from benchd.command.output import print_as, print_json, refused, width
from benchd.errors import ProfileError
from benchd.exits import Exit
from benchd.plan import plan_store
from benchd.plan.bench_fit import set_manually
from benchd.plan.estimate import estimate
from benchd.plan.run_order import before_each, run_order
from benchd.plan.safety import cautions
from benchd.plan.steps import expand
from benchd.profile import profile_store as library
from benchd.profile.timing import AnyBench
from benchd.report.data.planned_data import faults_json, planned_json
from benchd.report.terminal.planned import render_plan

if TYPE_CHECKING:
    from benchd.profile.bench import Bench


def main(arguments: Namespace) -> Exit:
    """Print the summary, and every step with --steps."""
    path = library.find("plans", arguments.plan)
    text, read = library.read_text(path), library.beside(path)
    bench: Bench | AnyBench = AnyBench()
    notes: list[str] = []
    swept: tuple[str, ...] = ()
    try:
        plan = plan_store.load_plan(text, str(path), read, library.find_target)
        target = library.find_target(plan.target)
        library.load_target(library.read_text(target), str(target))
        if arguments.bench:
            from benchd.run.bench.known_screen import refuse_unfit_as_known
            from benchd.run.job import Document, bench_job

            named = bench_job(arguments.bench)
            bench = named.bench
            notes += refuse_unfit_as_known(plan, named, Document(arguments.plan, str(path), text))
            swept = set_manually(plan, named.bench)
    except ProfileError as error:
        if arguments.format == "json":
            print_json(faults_json(arguments.plan, error.faults))
        return refused(error, "nothing was started")
    manual = bench.manual_moves
    steps = run_order(expand(plan, plan_store.plan_files(plan, read)), manual_moves=manual)
    every = steps if arguments.steps else ()
    precise_s = {}
    if any(step.precision is not None for step in steps):  # what it imports is needed by such plans only
        from benchd.run.adaptive.interface import expected_seconds

        precise_s = dict(expected_seconds(steps, getattr(bench, "expected", None), bench.timing))
    found = estimate(steps, bench.timing, plan, manual_moves=manual, set_manually=swept, precise_s=precise_s)
    common: dict[str, Any] = {"plan": plan.plan, "bench": bench.bench, "simulated": bench.is_simulated}
    common |= {"cautions": cautions(plan, steps, bench), "before": before_each(every, manual_moves=manual)}
    print_as(
        arguments.format,
        lambda: planned_json(found, steps=steps if arguments.steps else None, **common),
        lambda: render_plan(
            found, steps=every, set_manually=swept, width=width(), colour=coloured(sys.stdout), **common
        ),
    )
    for one in notes:
        (say if arguments.format == "json" else print)(f"Note: {one}")
    return Exit.COMPLETE
