"""The caution stands in the help of every command that lights a screen. Which do is found in what their code opens."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

from benchd.cli import COMMANDS, build_parser
from benchd.cli_words import main_of
from benchd.command.options import CAUTION
from tests.command.test_help import COMMANDS as PARSERS

WORDS = " ".join(CAUTION.split())
ROOT = Path(__file__).resolve().parents[2]
OPENS = {
    "benchd.run.session": {"start", "resume"},
    "benchd.run.bench.open_bench": {"OpenBench"},
    "benchd.patch.window_screen": {"WindowScreen"},
    "benchd.patch.listen": {"Listener"},
}
"""What shows a patch. Who imports something else of these modules shows none."""
GOES_ON = {"submit", "next"}
"""Of the commands that talk to a service: after these it shows patches, as after the resume of a job."""


@cache
def imported(module: str) -> tuple[tuple[str, str], ...]:
    """What a module imports, anywhere in it: module and name."""
    file = ROOT / f"{module.replace('.', '/')}.py"
    if not file.exists():
        return ()
    nodes = [node for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.ImportFrom) and node.module]
    return tuple((str(node.module), alias.name) for node in nodes for alias in node.names)


def opens_screen(module: str, seen: set[str]) -> bool:
    """Does it, or what it imports, show a patch?"""
    if module in seen:
        return False
    seen.add(module)
    for source, name in imported(module):
        inner = f"{source}.{name}"
        if name in OPENS.get(source, ()) or inner in OPENS:
            return True
        if source in OPENS or not source.startswith("benchd"):
            continue
        if opens_screen(inner, seen) or opens_screen(source, seen):
            return True
    return False


LIGHT = {one.name for one in COMMANDS if one.name in GOES_ON or opens_screen(main_of(one.name).__module__, set())}


def test_what_opens_a_screen_is_found() -> None:
    assert {"check", "run", "resume", "serve", "demo", "correct", "repeat", "window", "doctor"} <= LIGHT
    assert not LIGHT & {"plan", "results", "report", "replay", "library", "import", "log", "jobs", "help"}


@pytest.mark.parametrize("name", sorted(one.name for one in COMMANDS))
def test_the_help_of_what_lights_the_screen_has_the_caution(name: str) -> None:
    said = " ".join(PARSERS[name].format_help().split())
    assert (WORDS in said) == (name in LIGHT)


def test_the_help_of_all_has_it_too() -> None:
    assert WORDS in " ".join(build_parser().format_help().split())
