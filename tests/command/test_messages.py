"""What benchd says on a terminal: broken at blanks, and never within what is to be copied."""

from __future__ import annotations

import io
import sys

import pytest

from benchd.command.messages import heed, say

PATH = "/home/somebody/a folder with blanks in its name/benchd/logs/plover-27-1/2026-03-02T181203.log"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def said(monkeypatch: pytest.MonkeyPatch, text: str, stream: io.StringIO) -> list[str]:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys, "stderr", stream)
    say(text)
    return stream.getvalue().splitlines()


@pytest.mark.parametrize(
    "copied", [f"benchd resume '{PATH}'", PATH, "benchd run own --bench sim-office --log a.log --sample plover-27/1"]
)
def test_prose_breaks_at_blanks_and_what_is_copied_stands_in_one_piece(
    monkeypatch: pytest.MonkeyPatch, copied: str
) -> None:
    text = f"Nothing that was read is lost (12345 readings of done steps are on the disk). Go on with: {copied}"
    lines = said(monkeypatch, text, Terminal())
    assert lines[-1].endswith(copied), "in one piece"
    assert all(len(line) <= 80 for line in lines[:-1])
    assert " ".join(line.strip() for line in lines) == text, "nothing is lost, no word is broken"
    assert said(monkeypatch, text, io.StringIO()) == [text], "a pipe has each sentence on one line"


def test_short_lines_and_their_blanks_stay_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "first\n\n      second   third"
    assert said(monkeypatch, text, Terminal()) == text.split("\n")
    lines = said(monkeypatch, f"{text}\n{'word ' * 30}end", Terminal())
    assert lines[:3] == text.split("\n")
    assert max(map(len, lines)) <= 80


def test_a_caution_is_broken_at_blanks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setattr(sys, "stderr", stream := Terminal())
    heed(["patches change between dark and bright; do not watch the screen if that can harm you"])
    assert stream.getvalue().startswith("Caution: patches change ")
    assert max(map(len, stream.getvalue().splitlines())) <= 60
