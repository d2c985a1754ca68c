"""Options have one spelling each; one of before is answered with its new name."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from benchd.cli import build_parser, main
from benchd.cli_words import RENAMED
from benchd.command.output import sample_name


@pytest.mark.parametrize(("command", "old"), [(command, old) for command, olds in RENAMED.items() for old in olds])
def test_an_option_of_before_is_answered_with_its_name(
    command: str, old: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in ([old, "x"], [f"{old}=x"]):
        assert main([command, *words]) == 2
        assert f"{old} is now called: {RENAMED[command][old]}\n" in capsys.readouterr().err


def test_what_a_new_name_mentions_is_there() -> None:
    [commands] = [one for one in build_parser()._actions if isinstance(one, argparse._SubParsersAction)]
    for command, renamed in RENAMED.items():
        parsers = [commands.choices[command]]
        for one in parsers[0]._actions:
            parsers += one.choices.values() if isinstance(one, argparse._SubParsersAction) else []
        known = {option for parser in parsers for one in parser._actions for option in one.option_strings}
        for old, new in renamed.items():
            assert old not in known
            assert {word for word in new.split() if word.startswith("--")} <= known


def test_results_go_into_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "a.log"
    assert main(["check", "--bench", "sim-office", "--log", str(log)]) == 0
    for form in ("text", "json", "csv"):
        capsys.readouterr()
        written = tmp_path / f"figures.{form}"
        assert main(["results", str(log), "--format", form]) == 0
        shown = capsys.readouterr().out
        assert main(["results", str(log), "--format", form, "-o", str(written)]) == 0
        assert capsys.readouterr().out == ""
        assert written.read_bytes().decode() == shown
    assert main(["results", str(log), "--format", "parquet"]) == 2
    assert "needs --output FILE" in capsys.readouterr().err
    assert main(["results", str(log), "-o", str(log)]) == 2
    assert "is a log" in capsys.readouterr().err


def test_a_sample_of_more_than_two_parts_is_said_to_be_one_model_and_one_unit(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert sample_name("plover-27/1") == "plover-27/1"
    assert capsys.readouterr().err == ""
    assert sample_name(" a b/c/d") == "a b/c/d"
    assert "the last one counts: model 'a b/c', unit 'd'" in capsys.readouterr().err
