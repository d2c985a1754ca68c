"""``benchd help``: topics from files of the package, for a terminal of any width."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from benchd.cli import build_parser, main
from benchd.command.plain_text import rendered
from benchd.command.show.topics import FIRST, FOLDER, topics

TOPICS = topics()


def test_the_list_names_every_topic_in_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help"]) == 0
    said = capsys.readouterr().out
    assert len(TOPICS) == len(list(FOLDER.glob("*.md")))
    for name in TOPICS:
        assert len(re.findall(rf"(?m)^{name}  +[A-Z]", said)) == 1
    assert set(FIRST) <= set(TOPICS)
    assert list(TOPICS)[: len(FIRST)] == list(FIRST)


@pytest.mark.parametrize("name", sorted(TOPICS))
def test_a_topic_is_shown_within_the_terminal(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for columns in (80, 60):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert main(["help", name]) == 0
        said = capsys.readouterr().out
        prose = [line for line in said.splitlines() if not line.startswith("    ")]
        assert max(map(len, prose)) <= columns
        assert not re.search(r"(?m)^```|^#|\*\*|^\|", said)
        # What is printed as it is, which a console example cuts with an ellipsis, is not wrapped.
        assert max(map(len, said.splitlines())) <= 80
    examples = re.findall(r"(?ms)^```\w*\n(.*?)^```", TOPICS[name])
    assert examples
    assert "benchd " in "".join(examples)


@pytest.mark.parametrize("name", sorted(TOPICS))
def test_every_command_that_a_topic_types_is_understood(name: str) -> None:
    for typed in re.findall(r"(?m)^\$ benchd ([^\n]+)", TOPICS[name]):
        build_parser().understood(shlex.split(typed.partition(" > ")[0], comments=True))


def test_a_topic_has_several_spellings_and_a_command_has_its_help(capsys: pytest.CaptureFixture[str]) -> None:
    shown = []
    for words in (["exit-statuses"], ["exit", "statuses"], ["Exit-Statuses"], ["exit-statuses.md"]):
        assert main(["help", *words]) == 0
        shown.append(capsys.readouterr().out)
    assert len(set(shown)) == 1
    with pytest.raises(SystemExit) as end:
        main(["help", "log", "verify"])
    assert end.value.code == 0
    assert "usage: benchd log verify" in capsys.readouterr().out


def test_the_topics_are_in_the_package() -> None:
    import benchd

    assert FOLDER.is_relative_to(Path(benchd.__file__).parent)


def test_plain_text() -> None:
    text = """# A *head* of `code`

Two lines of
one **paragraph**.

- an item that is long enough to be wrapped
  and goes on
- another

| key | meaning |
|---|---|
| `a` | a meaning with a \\| sign |

  kept   as it is
  0  a text in two columns that is wrapped
```console
$ benchd  x   y
…
```
1. one
2. two
"""
    assert rendered(text, 40).splitlines() == [
        "A *head* of `code`",
        "==================",
        "",
        "Two lines of one paragraph.",
        "",
        "- an item that is long enough to be",
        "  wrapped and goes on",
        "- another",
        "",
        "key  meaning",
        "a    a meaning with a | sign",
        "",
        "  kept   as it is",
        "  0  a text in two columns that is",
        "     wrapped",
        "    $ benchd  x   y",
        "    …",
        "1. one",
        "2. two",
    ]
    assert rendered("", 80) == "\n"
