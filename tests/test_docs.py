"""The documents are true: their commands run, and everything an operator can meet is named in them."""

from __future__ import annotations

import argparse
import re
import shlex
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchd import errors
from benchd.cli import build_parser
from benchd.command.show.topics import topics
from benchd.exits import EXIT_CODES
from benchd.plan.keys_page import keys_page
from benchd.run.log.records import KINDS
from benchd.run.policy import POLICY
from sim.story import CLOSING, MEASURING, OPENING, steps
from tests.command.conftest import environment
from tests.once import made_once
from tests.ready import Ready

ROOT = Path(__file__).resolve().parent.parent
BESIDE = sorted(path for room in ("benchd", "sim", "tests") for path in (ROOT / room).rglob("*.md"))
"""Documents beside what they describe; a help topic inside the package is one."""
DOCUMENTS = {
    path.relative_to(ROOT).as_posix(): path.read_text()
    for path in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *BESIDE)
}
README, DEVELOPERS = DOCUMENTS["README.md"], DOCUMENTS["DEVELOPERS.md"]
ALL = "\n".join(DOCUMENTS.values())
TOPICS = Path("benchd/command/topics")
IN_A_RUN = "benchd/run/ERRORS.md"
LOG = "benchd/run/log/LOG.md"

WORDS = {
    r"told": "reported, stated, known",
    r"asked": "required, prompted",
    r"hands?": "the operator, manual",
    r"can't\s+(?:tell|be told)": "inconclusive",
    r"greatest": "largest, maximum",
    r"lessons?": "warm-up characterisation",
    r"witness(?:es)?": "light monitor",
    r"anchors?": "reference checks",
    r"desk": "job control",
    r"shel(?:f|ved)": "store of profiles",
    r"faults of a (?:plan|file)": "errors in a plan",
}
"""Words that documents do not use, and what they say instead (the project's glossary)."""
FENCED = r"(?ms)^```.*?^```"
QUOTED = r"(?ms)^```.*?^```|`[^`]*`"
"""What a program prints, and names of code."""


def parsers(name: str, parser: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """A parser and those of all its commands, by their names."""
    yield name, parser
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for inner, one in action.choices.items():
                yield from parsers(f"{name} {inner}", one)


PARSERS = dict(parsers("benchd", build_parser()))
READ = DOCUMENTS | {f"{name} --help": parser.format_help() for name, parser in PARSERS.items()}
READ["profiles/KEYS.md"] = (ROOT / "profiles" / "KEYS.md").read_text()
READ["sim/story.py"] = "\n".join(
    (OPENING, MEASURING, CLOSING, *(f"{one.heading}: {one.why} {one.read}" for one in steps()))
)
"""What somebody reads: documents, the help of every command, every key with its meaning, and the worked scenario."""


def blocks(text: str, kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def test_the_second_command_is_what_ci_runs() -> None:
    first, second = (block.strip() for block in blocks(README, "sh"))
    assert first.endswith("benchd demo")
    assert second in (ROOT / ".ci" / "run").read_text().splitlines()


def printed(text: str) -> Iterator[tuple[str, list[str]]]:
    """Every command of a document's console blocks with the lines that it is said to print."""
    for block in blocks(text, "console"):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, output = part.partition("\n")
            yield command, output.splitlines()


def test_the_tutorial_is_there() -> None:
    assert len(list(printed(README))) >= 8  # a first hour


LOGS = (
    ("run.log", "sdr-standard", "sim-office", "plover-27/1"),
    ("other.log", "sdr-standard", "sim-wide", "curlew-32/1"),
    ("sweep.log", "brightness-sweep", "sim-office", "plover-27/1"),
)
"""The logs that help topics speak of: file, plan, bench, sample."""


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory, ready: Ready) -> Path:
    def make(folder: Path) -> None:
        for file, plan, bench, sample in LOGS:
            words = ("run", plan, "--bench", bench, "--sample", sample, "--log", file)
            done = ready.run(words, folder, environment(folder))
            assert done.returncode == 0, done.stderr

    return made_once(tmp_path_factory, "logs-of-topics", make)


@pytest.mark.parametrize("name", [name for name, text in DOCUMENTS.items() if blocks(text, "console")])
def test_commands_print_what_the_document_says(
    name: str, tmp_path: Path, ready: Ready, request: pytest.FixtureRequest
) -> None:
    if Path(name).parent == TOPICS:
        for file, *_ in LOGS:
            if re.search(rf"(?m)^\$ .*{file}|--library \.", DOCUMENTS[name]):
                shutil.copy(request.getfixturevalue("logs") / file, tmp_path)
    for broken in blocks(DOCUMENTS[name], "yaml"):
        (tmp_path / "broken.yaml").write_text(broken)
    for command, wanted in printed(DOCUMENTS[name]):
        words = shlex.split(command)
        assert words[0] == "benchd"
        done = ready.run(words[1:], tmp_path, environment(tmp_path))
        assert "Traceback" not in done.stderr
        said = (done.stdout or done.stderr).splitlines()
        in_order = iter(said)
        for line in wanted:
            if line.strip() == "…":
                continue
            head = line.partition("…")[0]
            assert any(found.startswith(head) for found in in_order), f"{command}: no line {line!r} in {said}"


def test_the_readme_is_short_and_lists_every_topic() -> None:
    assert len(README.splitlines()) <= 200
    rows = [f"| `{name}` | {text.partition(chr(10))[0].removeprefix('# ')} |" for name, text in topics().items()]
    assert "\n".join(rows) in README


def test_every_topic_has_an_example_that_is_compared() -> None:
    found = {name: text for name, text in DOCUMENTS.items() if Path(name).parent == TOPICS}
    assert len(found) >= 12
    for name, text in found.items():
        assert any(line.strip() not in ("", "…") for _, output in printed(text) for line in output), name


def test_the_page_of_keys_is_current() -> None:
    assert READ["profiles/KEYS.md"] == keys_page()
    assert "profiles/KEYS.md" in README


def test_the_page_of_keys_says_a_thing_once() -> None:
    said: Counter[str] = Counter()
    for line in keys_page().splitlines():
        if not line.startswith(("#", "|---", "| key")):
            meaning = line.split(" | ")[1] if line.startswith("| ") else line
            said.update(one.lower().rstrip(".") for one in re.split(r"(?<=\.) ", meaning) if len(one.split()) >= 3)
    refers = ("as in ", "it has no key of its own")
    assert not [text for text, times in said.items() if times > 1 and not text.startswith(refers)]
    assert len(said) >= 300


def test_every_key_that_a_document_names_is_one() -> None:
    known = set(re.findall(r"^\| `(\w+)` \|", keys_page(), re.MULTILINE))
    count = 0
    for name, text in READ.items():
        for code in re.findall(r"`([a-z_]+:(?:\s[^`]*)?)`", re.sub(FENCED, "", text)):
            for key in re.findall(r"\b([a-z_]+):(?=\s|$)", code):
                assert key in known, f"{name}: `{code}` names no key {key!r}"
                count += 1
    assert count >= 40


def test_every_command_and_option_is_documented() -> None:
    commands = {name: parser for name, parser in PARSERS.items() if name.count(" ") == 1}
    assert len(commands) >= 20
    for name, command in commands.items():
        assert f"`{name}`" in README
        for action in command._actions:
            for option in action.option_strings:
                if option not in ("-h", "--help"):
                    assert re.search(rf"{re.escape(option)}(?![\w-])", ALL), f"{name} {option}"


def test_every_command_that_a_document_names_is_one() -> None:
    known = {name.partition(" ")[2] for name in PARSERS}
    count = 0
    for name, text in READ.items():
        for words in re.findall(r"(?:`|\$ |^  )benchd ([a-z]+)", text, re.MULTILINE):
            assert words in known, f"{name}: no command {words!r}"
            count += 1
    assert count >= 100


def test_every_exit_code_is_documented_as_it_is() -> None:
    for code, meaning in EXIT_CODES.items():
        assert f"| {code.value} | {meaning} |" in DOCUMENTS[f"{TOPICS}/exit-statuses.md"]


def test_every_record_kind_is_documented() -> None:
    for kind, meaning in KINDS.items():
        assert f"| `{kind}` | {meaning} |" in DOCUMENTS[LOG]


def test_every_error_and_what_follows_from_it_is_documented() -> None:
    def below(kind: type[errors.BenchdError]) -> Iterator[type[errors.BenchdError]]:
        for one in kind.__subclasses__():
            yield one
            yield from below(one)

    for kind in below(errors.BenchdError):
        if kind.__module__ == "benchd.errors":
            assert f"`{kind.__name__}`" in DOCUMENTS[IN_A_RUN], kind
    for error, action in POLICY.items():
        row = rf"^\| `{error.__name__}` \|.*\| {action.value} \|$"
        assert re.search(row, DOCUMENTS[IN_A_RUN], re.MULTILINE), error


def test_every_file_and_module_that_the_documents_name_is_there() -> None:
    for name in set(re.findall(r"`((?:benchd|sim|tests|profiles|\.ci)/[\w./-]+)`", ALL)):
        assert (ROOT / name).exists(), name
    for module in set(re.findall(r"python -m ((?:benchd|sim|tests)\.[\w.]+\w)", ALL)):
        place = ROOT / module.replace(".", "/")
        assert place.with_suffix(".py").exists() or (place / "__main__.py").exists(), module


def test_the_developers_document_is_short_and_names_every_other_one() -> None:
    assert len(DEVELOPERS.splitlines()) <= 230
    for name in DOCUMENTS:
        shown = name if Path(name).parent != TOPICS else f"{TOPICS}/"
        assert name in ("README.md", "DEVELOPERS.md") or f"`{shown}`" in DEVELOPERS, name


def test_the_map_of_the_rooms_has_every_room() -> None:
    rooms = [path for path in (ROOT / "benchd").iterdir() if (path / "__init__.py").exists()]
    files = [path for path in (ROOT / "benchd").glob("*.py") if not path.name.startswith(("_", "cli_"))]
    named = re.findall(r"`benchd/(\w+)(?:/|\.py)`", "\n".join(re.findall(r"^\| .*", DEVELOPERS, re.MULTILINE)))
    assert {path.stem for path in (*rooms, *files)} <= set(named)
    assert len(rooms) >= 10


@pytest.mark.parametrize("name", list(READ))
def test_documents_use_the_words_of_the_field(name: str) -> None:
    prose = re.sub(QUOTED, lambda found: re.sub(r"[^\n]", "", found[0]), READ[name])
    for words, better in WORDS.items():
        found = re.search(rf"(?i)\b(?:{words})\b", prose)
        place = f"{name}:{prose.count(chr(10), 0, found.start()) + 1}" if found else ""
        assert not found, f"{place}: {found[0]!r}; better: {better}"


def test_no_document_names_this_machine_or_an_index() -> None:
    for path in [*ROOT.glob("*.md"), *BESIDE, *ROOT.glob("*.toml"), *(ROOT / "profiles").rglob("*.yaml")]:
        text = path.read_text()
        assert not re.search(r"/work/|/tmp/venv|index-url|https?://pypi", text), path
