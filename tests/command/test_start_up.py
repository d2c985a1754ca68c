"""A command starts with what it needs and no more; the figures themselves are in tests/bench."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

import pytest

from benchd.cli import build_parser

LOADED = """
import sys, runpy
sys.argv[0] = "benchd"
try:
    runpy.run_module("benchd", run_name="__main__")
except SystemExit as end:
    import os
    threads = os.environ["OPENBLAS_NUM_THREADS"]
    print(*sorted(sys.modules), f"threads={threads}", file=sys.stderr)
    raise
"""


def loaded(*words: str) -> set[str]:
    """The modules that a command has imported at its end, and the number of threads that numpy may start."""
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *words], capture_output=True, text=True, check=True, env=environment
    )
    return set(done.stderr.split())


def parsers(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The commands by name."""
    (commands,) = (action for action in parser._actions if isinstance(action, argparse._SubParsersAction))
    return dict(commands.choices)


def test_a_plan_is_explained_without_the_models_of_a_bench() -> None:
    modules = loaded("plan", "quick")
    assert "benchd.plan.model" in modules
    assert not modules & {"benchd.plan.bench", "benchd.plan.dialect", "difflib", "numpy", "serial", "pyglet"}
    assert "benchd.plan.bench" in loaded("plan", "quick", "--bench", "sim-office")


def test_help_needs_no_library_and_numpy_may_start_no_threads() -> None:
    modules = loaded("--help")
    assert not modules & {"numpy", "yaml", "pydantic", "serial", "pyglet", "dataclasses", "tempfile"}
    assert "threads=1" in modules


def test_a_command_alone_is_parsed_like_among_all() -> None:
    whole = build_parser()
    assert len(parsers(whole)) > 10
    for name, parser in parsers(whole).items():
        alone = parsers(build_parser(name))
        assert {name: alone[name].format_help()} == {name: parser.format_help()}
        assert list(alone) == [name]


@pytest.mark.parametrize("first", ["", "--help", "-h", "--version", "pla", "nonsense"])
def test_whoever_asks_for_no_command_sees_all(first: str) -> None:
    assert build_parser(first).format_help() == build_parser().format_help()
