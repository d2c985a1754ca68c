"""``benchd doctor``: what this machine has, which parts of a bench answer, and what to do about those that don't.

With ``--json`` the shape ``benchd.doctor/1``::

    {"schema": "benchd.doctor/1", "benchd": version, "python": version, "platform": words, "libraries": {name: version},
     "measurements": [{"name", "package", "version", "state": "built in", "imported" or what is wrong,
                       "why": sentence or ""}],
     "drivers": as "measurements",
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
from dataclasses import asdict
from importlib import metadata
from typing import Any

from benchd import __version__
from benchd.command.messages import say
from benchd.command.output import print_json
from benchd.errors import ScreenError
from benchd.exits import Exit
from benchd.instruments.wire import PortInfo, ports
from benchd.measurements import registry
from benchd.patch.screen import ScreenIdentity
from benchd.patch.window_screen import list_screens
from benchd.profile import driver
from benchd.profile import profile_store as library
from benchd.report.words import SIMULATED, printable
from benchd.run.bench.checkup import PartAnswer, check_up
from benchd.run.job import BenchJob, bench_job
from benchd.run.session import LIBRARIES

SCHEMA = "benchd.doctor/1"
WORDS = {"correction": ("fits", "DOES NOT FIT"), "repeated": ("known", "CAN'T BE READ")}
"""Of what is no part that answers."""


def main(arguments: Namespace) -> Exit:
    """Print the page; exit code 1 when a part of the named bench does not answer."""
    if arguments.format == "json":
        return _json(arguments.bench)
    _versions()
    _measurements()
    if arguments.bench:
        return _bench(bench_job(arguments.bench))
    _ports(ports())
    _screens()
    print(f"profiles   benches: {', '.join(library.names('benches'))}")
    print(f"           meter dialects: {', '.join(library.names('meters'))}")
    print("\nAsk every part of a bench with: benchd doctor --bench BENCH")
    return Exit.COMPLETE


def _libraries() -> dict[str, str]:
    return {name: metadata.version(name) for name in LIBRARIES}


def _versions() -> None:
    libraries = ", ".join(f"{name} {version}" for name, version in _libraries().items())
    print(f"benchd     {__version__}, Python {platform.python_version()} on {platform.platform()}")
    print(f"libraries  {libraries}")


def _measurements() -> None:
    """How many are built in, and a line for each that a package adds, drivers too."""
    added = [one for one in registry.states() if one.state != "built in"]
    print(f"measures   {len(registry.PACKAGES)} kinds built in; {len(added) or 'none'} from packages")
    for one in (*added, *driver.states()):
        why = f": {one.why}" if one.why else ""
        print(f"{'':10} {printable(one.name)} of {printable(one.package)} {printable(one.version)}, {one.state}{why}")


def _ports(found: tuple[PortInfo, ...]) -> None:
    for number, port in enumerate(found):
        described = "" if port.description in ("", "n/a") else f", {port.description}"
        usb = f", USB {port.usb}" if port.usb else ""
        stable = f", always reached as {port.stable_names[0]}" if port.stable_names else ""
        denied = "" if _allowed(port) else " - no permission: add yourself to the group that owns it (often dialout)"
        print(f"{'ports' if number == 0 else '':10} {port.name}{described}{usb}{stable}{denied}")
    if not found:
        print("ports      none: plug the meter's cable or adapter in; a meter with its own kit needs no port")


def _allowed(port: PortInfo) -> bool:
    return os.access(port.name, os.R_OK | os.W_OK)


def _screens() -> None:
    screens, fault = _find_screens()
    if fault:
        print(f"screens    none: {fault}")
    for number, screen in enumerate(screens):
        place = f"{screen.width} x {screen.height} at {screen.x},{screen.y}, {screen.bits} bit"
        place += f", {screen.refresh_hz:.5g} Hz" if screen.refresh_hz else ""
        ramp = "" if screen.gamma_ramp != "changed" else " - its gamma ramp is changed: turn night light off"
        print(f"{'screens' if number == 0 else '':10} {screen.name}: {place}{ramp}")


def _find_screens() -> tuple[tuple[ScreenIdentity, ...], str]:
    """The screens that are on, or why there are none."""
    try:
        return list_screens(), ""
    except ScreenError as error:
        return (), str(error)


def _bench(job: BenchJob) -> Exit:
    simulated = " (SIMULATED)" if job.bench.simulated else ""
    print(f"bench      {job.bench.bench}{simulated}: {job.bench.about}")
    answers = []
    for answer in check_up(job):
        good, bad = WORDS.get(answer.part, ("answers", "DOES NOT ANSWER"))
        print(f"{answer.part:10} {good if answer.ok else bad}: {answer.text}", flush=True)
        for detail in answer.details:
            print(f"{'':10}   {detail}")
        answers.append(answer)
    return _verdict(answers)


def _verdict(answers: list[PartAnswer]) -> Exit:
    silent = sum(not answer.ok for answer in answers)
    if not silent:
        return Exit.COMPLETE
    parts = "1 part of the bench does" if silent == 1 else f"{silent} parts of the bench do"
    say(f"{parts} not answer; see above what to do.")
    return Exit.NO


def _json(bench: str | None) -> Exit:
    found: dict[str, Any] = {
        "schema": SCHEMA,
        "benchd": __version__,
        "python": platform.python_version(),
        "platform": platform.platform(),
        "libraries": _libraries(),
        "measurements": [one._asdict() for one in registry.states()],
        "drivers": [one._asdict() for one in driver.states()],
    }
    if not bench:
        screens, fault = _find_screens()
        found["ports"] = [{**asdict(port), "allowed": _allowed(port)} for port in ports()]
        found["screens"] = [asdict(screen) for screen in screens]
        found["screens_fault"] = fault
        found["profiles"] = {kind: list(library.names(kind)) for kind in ("benches", "meters")}
        print_json(found)
        return Exit.COMPLETE
    job = bench_job(bench)
    answers = list(check_up(job))
    found["bench"] = {
        "name": job.bench.bench,
        "simulated": job.bench.simulated,
        "notice": SIMULATED if job.bench.simulated else "",
        "about": job.bench.about,
        "answers": all(answer.ok for answer in answers),
        "parts": [{**asdict(answer), "part": answer.part.strip()} for answer in answers],
    }
    print_json(found)
    return _verdict(answers)
