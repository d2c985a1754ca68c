"""The documents are true: their commands run, and everything an operator can meet is named in them."""

from __future__ import annotations

import argparse
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from benchd import errors
from benchd.cli import build_parser
from benchd.exits import EXIT_CODES
from benchd.plan import key_tables
from benchd.run.policy import POLICY
from benchd.run.records import KINDS
from tests.command.conftest import environment

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
BOTH = README + DEVELOPERS


def blocks(text: str, kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def test_the_second_command_is_what_ci_runs() -> None:
    first, second = (block.strip() for block in blocks(README, "sh"))
    assert first.endswith("benchd demo")
    assert second in (ROOT / ".ci" / "run").read_text().splitlines()


def told_commands() -> Iterator[tuple[str, list[str]]]:
    """Every command of the README's tutorial with the lines that it is said to print."""
    for block in blocks(README, "console"):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, output = part.partition("\n")
            yield command, output.splitlines()


def test_the_tutorial_prints_what_it_says(tmp_path: Path) -> None:
    [broken] = blocks(README, "yaml")
    (tmp_path / "broken.yaml").write_text(broken)
    count = 0
    for command, wanted in told_commands():
        words = shlex.split(command)
        assert words[0] == "benchd"
        done = subprocess.run(
            [sys.executable, "-m", *words],
            cwd=tmp_path,
            env=environment(tmp_path),
            capture_output=True,
            text=True,
            check=False,
            timeout=600,
        )
        said = (done.stdout or done.stderr).splitlines()
        in_order = iter(said)
        for line in wanted:
            if line.strip() == "…":
                continue
            head = line.partition("…")[0]
            assert any(found.startswith(head) for found in in_order), f"{command}: no line {line!r} in {said}"
        count += 1
    assert count >= 8


def test_the_page_of_keys_is_current() -> None:
    assert (ROOT / "profiles" / "KEYS.md").read_text() == key_tables.page()
    assert "profiles/KEYS.md" in README


def test_every_command_and_option_is_documented() -> None:
    parser = build_parser()
    [commands] = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    for name, command in commands.choices.items():
        assert f"`benchd {name}`" in README
        for action in command._actions:
            for option in action.option_strings:
                if option not in ("-h", "--help"):
                    assert re.search(rf"{re.escape(option)}(?![\w-])", BOTH), f"{name} {option}"


def test_every_exit_code_is_documented_as_it_is() -> None:
    for code, meaning in EXIT_CODES.items():
        assert f"| {code.value} | {meaning} |" in README


def test_every_record_kind_is_documented() -> None:
    for kind, meaning in KINDS.items():
        assert f"| `{kind}` | {meaning} |" in DEVELOPERS


def test_every_error_and_what_follows_from_it_is_documented() -> None:
    def below(kind: type[errors.BenchdError]) -> Iterator[type[errors.BenchdError]]:
        for one in kind.__subclasses__():
            yield one
            yield from below(one)

    for kind in below(errors.BenchdError):
        if kind.__module__ == "benchd.errors":
            assert f"`{kind.__name__}`" in DEVELOPERS, kind
    for error, action in POLICY.items():
        assert re.search(rf"^\| `{error.__name__}` \|.*\| {action.value} \|$", DEVELOPERS, re.MULTILINE), error


def test_every_file_that_the_documents_name_is_there() -> None:
    for name in set(re.findall(r"`((?:benchd|sim|tests|profiles|\.ci)/[\w./-]+)`", BOTH)):
        assert (ROOT / name).exists(), name


def test_no_document_names_this_machine_or_an_index() -> None:
    for path in [*ROOT.glob("*.md"), *ROOT.glob("*.toml"), *(ROOT / "profiles").rglob("*.yaml")]:
        text = path.read_text()
        assert not re.search(r"/work/|/tmp/venv|index-url|https?://pypi", text), path
