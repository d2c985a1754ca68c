"""``benchd doctor``: what this machine has, which parts of a bench answer, and how to mend those that don't."""

from __future__ import annotations

import os
import platform
from argparse import Namespace
from importlib import metadata

from benchd import __version__
from benchd.command.messages import say
from benchd.errors import ScreenError
from benchd.exits import Exit
from benchd.instruments.wire import ports
from benchd.patch.window_screen import list_screens
from benchd.plan import library
from benchd.run.checkup import check_up
from benchd.run.job import bench_job
from benchd.run.session import LIBRARIES

WORDS = {"correction": ("fits", "DOES NOT FIT"), "repeated": ("known", "CAN'T BE READ")}
"""Of what is no part that answers."""


def main(arguments: Namespace) -> Exit:
    """Print the page; exit code 1 when a part of the named bench does not answer."""
    _versions()
    if arguments.bench:
        return _bench(arguments.bench)
    _ports()
    _screens()
    print(f"profiles   benches: {', '.join(library.names('benches'))}")
    print(f"           meter dialects: {', '.join(library.names('meters'))}")
    print("\nAsk every part of a bench with: benchd doctor --bench BENCH")
    return Exit.COMPLETE


def _versions() -> None:
    libraries = ", ".join(f"{name} {metadata.version(name)}" for name in LIBRARIES)
    print(f"benchd     {__version__}, Python {platform.python_version()} on {platform.platform()}")
    print(f"libraries  {libraries}")


def _ports() -> None:
    found = ports()
    for number, port in enumerate(found):
        described = "" if port.description in ("", "n/a") else f", {port.description}"
        usb = f", USB {port.usb}" if port.usb else ""
        stable = f", always reached as {port.stable_names[0]}" if port.stable_names else ""
        allowed = os.access(port.name, os.R_OK | os.W_OK)
        denied = "" if allowed else " - no permission: add yourself to the group that owns it (often dialout)"
        print(f"{'ports' if number == 0 else '':10} {port.name}{described}{usb}{stable}{denied}")
    if not found:
        print("ports      none: plug the meter's cable or adapter in; a meter with its own kit needs no port")


def _screens() -> None:
    try:
        screens = list_screens()
    except ScreenError as error:
        print(f"screens    none: {error}")
        return
    for number, screen in enumerate(screens):
        place = f"{screen.width} x {screen.height} at {screen.x},{screen.y}, {screen.bits} bit"
        place += f", {screen.refresh_hz:.5g} Hz" if screen.refresh_hz else ""
        ramp = "" if screen.gamma_ramp != "changed" else " - its gamma ramp is changed: turn night light off"
        print(f"{'screens' if number == 0 else '':10} {screen.name}: {place}{ramp}")


def _bench(name: str) -> Exit:
    job = bench_job(name)
    simulated = " (SIMULATED)" if job.bench.simulated else ""
    print(f"bench      {job.bench.bench}{simulated}: {job.bench.about}")
    silent = 0
    for answer in check_up(job):
        good, bad = WORDS.get(answer.part, ("answers", "DOES NOT ANSWER"))
        print(f"{answer.part:10} {good if answer.ok else bad}: {answer.text}", flush=True)
        for detail in answer.details:
            print(f"{'':10}   {detail}")
        silent += not answer.ok
    if silent:
        parts = "1 part of the bench does" if silent == 1 else f"{silent} parts of the bench do"
        say(f"{parts} not answer; see above what to do.")
        return Exit.NO
    return Exit.COMPLETE
