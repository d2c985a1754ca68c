"""Every command's help teaches: what it does, examples that are real, and its exit codes."""

from __future__ import annotations

import argparse
import re
import shlex

import pytest

from benchd.cli import build_parser, main
from benchd.cli_words import CODES, EXAMPLES
from benchd.exits import Exit


def commands() -> dict[str, argparse.ArgumentParser]:
    actions = build_parser()._subparsers._group_actions  # type: ignore[union-attr]
    return dict(actions[0].choices)  # type: ignore[arg-type]


COMMANDS = commands()


def test_the_words_are_those_of_the_commands() -> None:
    assert set(EXAMPLES) == set(CODES) == set(COMMANDS)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_begins_with_the_answer_and_examples_and_ends_with_exit_codes(name: str) -> None:
    text = COMMANDS[name].format_help()
    answer, examples, usage = text.split("\n\n")[:3]
    assert re.fullmatch(r"[A-Z][^\n]+\.", answer)
    assert examples.startswith(f"examples:\n  benchd {name}")
    assert usage.startswith(f"usage: benchd {name}")
    codes = [int(code) for code in re.findall(r"^  (\d+)  \S", text.partition("exit codes")[2], re.MULTILINE)]
    assert codes[0] == Exit.COMPLETE
    assert Exit.BAD_INPUT in codes
    assert codes == sorted(set(codes))


@pytest.mark.parametrize("columns", [60, 80])
def test_paragraphs_of_help_are_as_wide_as_the_terminal(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    for name, command in COMMANDS.items():
        text = command.format_help().partition("usage: ")[2]
        wide = [line for line in text.splitlines() if len(line) > columns and not line.startswith(" ")]
        assert not wide, name


def test_the_list_of_commands_has_a_line_each(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    lines = build_parser().format_help().splitlines()
    assert max(map(len, lines)) <= 84
    for name in COMMANDS:
        [at] = [number for number, line in enumerate(lines) if line.startswith(f"    {name} ")]
        assert lines[at + 1][4:5] != " ", name


MISTYPED = {
    "rsults a.log": "`benchd` has no command 'rsults'; did you mean results?",
    "log verfy a.log": "`benchd log` has no command 'verfy'; did you mean verify?",
    "new measurment haze": "`benchd new` has no command 'measurment'; did you mean measurement?",
    "check --bnch sim-office": "`benchd check` has no option --bnch; did you mean --bench?",
    "check --bench=sim-office --jsn": "`benchd check` has no option --jsn; did you mean --json?",
    "library list -x": "`benchd library list` has no option -x; `benchd library list --help` lists them",
    "results a.log --format jsn": "--format 'jsn': use text, json, csv, parquet or colour-text; did you mean json?",
    "results a.log --out": "`benchd results` has no option --out; did you mean --output?",
    "results a.log --block gamut --format colour-text": "colour-text has every patch of the log; leave --block away",
    "results a.log --block gamut --details": "--block prints its block whole, and --details all of them; remove one",
    "results a.log -o": "--output needs a value after it",
    "results": "`benchd results` needs LOG; for example: benchd results run.log",
    "results a.log b.log": "`benchd results` takes no further word 'b.log'; for example: benchd results run.log",
    "results a.log --json --format csv": "--format and --json exclude each other; give one of them",
    "submit quick --priority high": "--priority 'high': write a whole number",
    "correct white --meter A": "--meter needs 2 values after it: --meter MODEL SERIAL",
    "log salvage a.log b.log": "`benchd log salvage` needs --log; for example: benchd log salvage damaged.log --log",
    "library show a --all": "--all is now called: --details",
    "help plns": "there is no topic 'plns'; did you mean plans?",
    "help drift": "there is no topic 'drift'; see `benchd help stability`",
    "help color": "there is no topic 'color'; did you mean colour?",
    "help nonsense": "there is no topic 'nonsense'; `benchd help` lists the topics",
    "plan nigth": "there is no plan 'nigth'; did you mean night",
    "check --bench sim-ofice": "there is no bench 'sim-ofice'; did you mean sim-office",
    "results a.log --target strgb": "there is no target 'strgb'; did you mean srgb?",
}


@pytest.mark.parametrize("words", sorted(MISTYPED))
def test_what_is_mistyped_is_answered_with_one_sentence(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(shlex.split(words)) == Exit.BAD_INPUT
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(MISTYPED[words])
    assert said.err.count("\n") == 1


def test_no_command_at_all_is_answered_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == Exit.BAD_INPUT
    assert "`benchd --help`" in capsys.readouterr().err


def test_what_an_option_takes_is_no_mistyped_option() -> None:
    parsed = build_parser().understood(["run", "quick", "--bench", "b", "--note", "- low", "--sample=-x", "--log", "-"])
    assert (parsed.note, parsed.sample, parsed.log) == ("- low", "-x", "-")
    assert build_parser().understood(["log", "verify", "--", "--odd.log"]).logs == ["--odd.log"]
    assert build_parser().understood(["submit", "quick", "--priority", "-1"]).priority == -1


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
