"""Every command's help teaches: what it does, examples that are real, and its exit codes."""

from __future__ import annotations

import argparse
import re
import shlex

import pytest

from benchd.cli import build_parser
from benchd.cli_words import CODES, EXAMPLES
from benchd.exits import Exit


def commands() -> dict[str, argparse.ArgumentParser]:
    actions = build_parser()._subparsers._group_actions  # type: ignore[union-attr]
    return dict(actions[0].choices)  # type: ignore[arg-type]


COMMANDS = commands()


def test_the_words_are_those_of_the_commands() -> None:
    assert set(EXAMPLES) == set(CODES) == set(COMMANDS)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_ends_with_examples_and_exit_codes(name: str) -> None:
    text = COMMANDS[name].format_help()
    assert f"examples:\n  benchd {name}" in text
    codes = [int(code) for code in re.findall(r"^  (\d+)  \S", text.partition("exit codes")[2], re.MULTILINE)]
    assert codes[0] == Exit.COMPLETE
    assert Exit.BAD_INPUT in codes
    assert codes == sorted(set(codes))


@pytest.mark.parametrize("words", [words for several in EXAMPLES.values() for words in several])
def test_examples_are_understood(words: str) -> None:
    build_parser().parse_args(shlex.split(words.partition(" > ")[0]))


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_option_says_what_it_is(name: str) -> None:
    waiting = [COMMANDS[name]]
    while waiting:
        for action in waiting.pop()._actions:
            if isinstance(action, argparse._SubParsersAction):
                waiting += action.choices.values()
            else:
                assert action.help, f"{name}: {action.option_strings or action.dest} has no help"
