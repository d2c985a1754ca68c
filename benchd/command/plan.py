"""``benchd plan``: what a plan would do. Opens no port and no window."""

from __future__ import annotations

import shutil
import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.fit import refuse_depth
from benchd.command.messages import say
from benchd.errors import ProfileError
from benchd.exits import Exit
from benchd.plan import library
from benchd.plan.bench import Bench, MeterPart, ScreenPart
from benchd.plan.estimate import estimate, moves_before
from benchd.plan.safety import cautions
from benchd.plan.steps import expand
from benchd.report.planned import render_plan

ANY_BENCH = Bench(bench="any", screen=ScreenPart(monitor="primary"), meter=MeterPart(dialect="any", port="any"))
"""Typical timing and a hand that moves the meter, for an estimate without a bench."""


def main(arguments: Namespace) -> Exit:
    """Print the summary, and every step where that is asked."""
    path = library.find("plans", arguments.plan)
    text, read = library.read_text(path), library.beside(path)
    try:
        plan = library.load_plan(text, str(path), read, library.find_target)
        target = library.find_target(plan.target)
        library.load_target(library.read_text(target), str(target))
    except ProfileError as error:
        say(str(error))
        count = len(error.faults)
        say(f"{count} {'fault' if count == 1 else 'faults'}; nothing was started.")
        return Exit.BAD_INPUT
    bench = ANY_BENCH
    if arguments.bench:
        bench = _bench(arguments.bench)
        refuse_depth(plan, bench)
    steps = expand(plan, library.plan_files(plan, read))
    every = steps if arguments.steps else ()
    text = render_plan(
        estimate(steps, bench.timing, plan, by_hand=bench.by_hand),
        plan=plan.plan,
        bench=bench.bench,
        simulated=bench.simulated,
        cautions=cautions(plan, steps, bench),
        steps=every,
        moves=moves_before(every),
        width=shutil.get_terminal_size((100, 24)).columns,
        colour=sys.stdout.isatty(),
    )
    sys.stdout.write(text)
    return Exit.COMPLETE


def _bench(name: str) -> Bench:
    path = Path(library.find("benches", name))
    return library.load_bench(library.read_text(path), str(path))
