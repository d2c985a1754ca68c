"""``benchd demo``: the whole job on the simulated bench."""

from __future__ import annotations

import shutil
import sys
from argparse import Namespace
from pathlib import Path

from benchd.command.measure.new_log import default_log
from benchd.command.measure.run import run_job
from benchd.command.messages import say
from benchd.command.show.results import print_json, results_of
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.report.terminal.results_text import render_text
from benchd.run.job import bench_job, plan_job

SAMPLES = {"office": "plover-27/demo", "wide": "curlew-32/demo", "emissive": "avocet-27/demo"}
SAMPLES |= {"hdr-lcd": "godwit-32/demo", "hdr-zone-lcd": "whimbrel-32/demo", "hdr-emissive": "phalarope-31/demo"}
"""Invented displays of an invented scenario."""


def main(arguments: Namespace) -> Exit:
    """Measure an invented display and print the results."""
    log = Path(arguments.log) if arguments.log else default_log("logs", "demo")
    hdr = arguments.display.startswith("hdr-")
    if hdr and arguments.night:
        raise InputError("the plan of the night is an SDR plan; take --night or an HDR display")
    plan = "hdr-standard" if hdr else "night" if arguments.night else "sdr-standard"
    job = plan_job(plan)
    code = run_job(job, bench_job(f"sim-{arguments.display}"), log, SAMPLES[arguments.display], "invented sample")
    if code is not Exit.COMPLETE:
        return code
    results, reference = results_of(log)
    if arguments.format == "json":
        print_json(results, reference)
        return code
    width = shutil.get_terminal_size((100, 24)).columns
    print(render_text(results, log=reference, width=width, colour=sys.stdout.isatty()), end="")
    say(f"\nNext: benchd results {log} --json    benchd replay {log}    benchd plan {plan} --steps")
    return code
