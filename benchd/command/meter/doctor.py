"""``benchd doctor``: what this machine has, which parts of a bench answer, and what to do about those that don't.

With ``--json`` the shape ``benchd.doctor/1``::

    {"schema": "benchd.doctor/1", "benchd": version, "python": version, "platform": words, "libraries": {name: version},
     "measurements": [{"name", "package", "version", "state": "built in", "imported" or what is wrong,
                       "why": sentence or ""}],
     "drivers": as "measurements",
     "library": {"folder": where logs are kept, "writable": bool, "also_read": [where earlier versions kept them, ...]},
     without --bench:
     "ports": [{"name": path, "description": words, "usb": "vendor:product" or null, "serial_number": text or null,
                "stable_names": [path, ...], "allowed": bool}],
     "screens": [{"name", "width", "height", "x", "y", "bits", "refresh_hz" or null, "gamma_ramp", ...}],
     "screens_fault": why there are none, or "",
     "profiles": {"benches": [name, ...], "meters": [name, ...]},
     with --bench:
     "bench": {"name": name, "simulated": bool, "notice": "SIMULATED" or "", "about": words, "answers": bool,
               "parts": [{"part": name, "ok": bool, "text": sentence, "details": [line, ...]}]}}
"""

from __future__ import annotations

import os
import platform
from argparse import Namespace
from collections.abc import Callable, Iterator
from dataclasses import asdict
from functools import partial
from importlib import metadata
from typing import Any

from benchd import __version__
from benchd.command.messages import say
from benchd.command.output import can_be_made, print_as, print_json
from benchd.errors import ScreenError
from benchd.exits import Exit
from benchd.instruments.wire import ports
from benchd.measurements import registry
from benchd.patch.screen import ScreenIdentity
from benchd.patch.window_screen import list_screens
from benchd.profile import driver
from benchd.profile import profile_store as library
from benchd.report.words import SIMULATED, printable
from benchd.run.bench.checkup import check_up
from benchd.run.job import BenchJob, bench_job
from benchd.run.session import LIBRARIES
from benchd.user_folders import LIBRARY_VARIABLE, earlier_folders, library_folder

SCHEMA = "benchd.doctor/1"
WORDS = {"correction": ("fits", "DOES NOT FIT"), "repeated": ("known", "CAN'T BE READ")}
"""Of what is no part that answers."""


def main(arguments: Namespace) -> Exit:
    """Print the page; exit code 1 when a part of the named bench does not answer."""
    facts: dict[str, Any] = {
        "schema": SCHEMA,
        "benchd": __version__,
        "python": platform.python_version(),
        "platform": platform.platform(),
        "libraries": {name: metadata.version(name) for name in LIBRARIES},
        "measurements": [one._asdict() for one in registry.states()],
        "drivers": [one._asdict() for one in driver.states()],
        "library": {
            "folder": str(library_folder()),
            "writable": can_be_made(library_folder()),
            "also_read": list(map(str, earlier_folders())),
        },
    }
    if arguments.bench:
        return _bench(bench_job(arguments.bench), facts, as_json=arguments.format == "json")
    screens, fault = _find_screens()
    facts["ports"] = [{**asdict(port), "allowed": os.access(port.name, os.R_OK | os.W_OK)} for port in ports()]
    facts |= {"screens": [asdict(screen) for screen in screens], "screens_fault": fault}
    facts["profiles"] = {kind: list(library.names(kind)) for kind in ("benches", "meters")}
    return print_as(arguments.format, lambda: facts, lambda: "\n".join([*_versions(facts), *_machine(facts)]) + "\n")


def _versions(facts: dict[str, Any]) -> Iterator[str]:
    """benchd and its libraries; how many measurements are built in, and what packages add, drivers too."""
    libraries = ", ".join(f"{name} {version}" for name, version in facts["libraries"].items())
    yield f"benchd     {facts['benchd']}, Python {facts['python']} on {facts['platform']}"
    yield f"libraries  {libraries}"
    added = [one for one in facts["measurements"] if one["state"] != "built in"]
    yield f"measures   {len(registry.PACKAGES)} kinds built in; {len(added) or 'none'} from packages"
    for one in (*added, *facts["drivers"]):
        whose = printable("{name} of {package} {version}".format_map(one))
        yield f"{'':10} {whose}, {one['state']}{': ' if one['why'] else ''}{one['why']}"
    denied = (
        "" if facts["library"]["writable"] else f" - no permission to write: name another one in {LIBRARY_VARIABLE}"
    )
    yield printable(f"library    {facts['library']['folder']}{denied}")
    for one in facts["library"]["also_read"]:
        yield printable(f"{'':10} and from earlier versions {one}")


def _machine(facts: dict[str, Any]) -> Iterator[str]:
    """Ports, screens and profiles."""
    for number, port in enumerate(facts["ports"]):
        described = "" if port["description"] in ("", "n/a") else f", {port['description']}"
        usb = f", USB {port['usb']}" if port["usb"] else ""
        stable = f", always reached as {port['stable_names'][0]}" if port["stable_names"] else ""
        denied = "" if port["allowed"] else " - no permission: add yourself to the group that owns it (often dialout)"
        yield f"{'' if number else 'ports':10} {port['name']}{described}{usb}{stable}{denied}"
    if not facts["ports"]:
        yield "ports      none: plug the meter's cable or adapter in; a meter with its own kit needs no port"
    if facts["screens_fault"]:
        yield f"screens    none: {facts['screens_fault']}"
    for number, screen in enumerate(facts["screens"]):
        place = "{name}: {width} x {height} at {x},{y}, {bits} bit".format_map(screen)
        rate = f", {screen['refresh_hz']:.5g} Hz" if screen["refresh_hz"] else ""
        ramp = "" if screen["gamma_ramp"] != "changed" else " - its gamma ramp is changed: turn night light off"
        yield f"{'' if number else 'screens':10} {place}{rate}{ramp}"
    yield f"profiles   benches: {', '.join(facts['profiles']['benches'])}"
    yield f"           meter dialects: {', '.join(facts['profiles']['meters'])}"
    yield "\nCheck every part of a bench with: benchd doctor --bench BENCH"


def _find_screens() -> tuple[tuple[ScreenIdentity, ...], str]:
    """The screens that are on, or why there are none."""
    try:
        return list_screens(), ""
    except ScreenError as error:
        return (), str(error)


def _bench(job: BenchJob, facts: dict[str, Any], *, as_json: bool) -> Exit:
    """Every part of a bench: as JSON at the end, as text while they answer."""
    show: Callable[..., None] = (lambda *lines: None) if as_json else partial(print, sep="\n", flush=True)
    simulated = " (SIMULATED)" if job.bench.is_simulated else ""
    file = job.documents["bench"].name
    show(*_versions(facts), f"bench      {job.bench.bench}{simulated}: {job.bench.about}")
    if file != job.bench.bench:
        show(printable(f"{'':10} its file is {file}: --bench takes that name, logs have {job.bench.bench}"))
    answers = []
    for answer in check_up(job):
        good, bad = WORDS.get(answer.part, ("answers", "DOES NOT ANSWER"))
        first = f"{answer.part:10} {good if answer.ok else bad}: {answer.text}"
        show(first, *(f"{'':10}   {detail}" for detail in answer.details))
        answers.append(answer)
    silent = sum(not answer.ok for answer in answers)
    facts["bench"] = {
        "name": job.bench.bench,
        "simulated": job.bench.is_simulated,
        "notice": SIMULATED if job.bench.is_simulated else "",
        "about": job.bench.about,
        "answers": not silent,
        "parts": [{**asdict(answer), "part": answer.part.strip()} for answer in answers],
    }
    if as_json:
        print_json(facts)
    if not silent:
        return Exit.COMPLETE
    parts = "1 part of the bench does" if silent == 1 else f"{silent} parts of the bench do"
    say(f"{parts} not answer; see above what to do.")
    return Exit.NO
