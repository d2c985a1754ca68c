"""Names that were not ours to choose, of files and samples: no line is broken, no terminal upset, no page spoilt."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchd.cli import main
from benchd.report.page.parts import esc
from benchd.report.words import columns, printable, wrapped
from tests.library.conftest import write_log

SAMPLE = "plover\n27\x1b[31m/\u202e1"
ESCAPED = "plover\\n27\\x1b[31m/\\u202e1"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("plain name é 画", "plain name é 画"),
        ("a\nb\r\tc", "a\\nb\\r\\tc"),
        ("\x1b[2J\x07\x85", "\\x1b[2J\\x07\\x85"),
        ("\u2028\u202e\ufeff", "\\u2028\\u202e\\ufeff"),
        ("\udcff", "\\udcff"),
        ("384.6\u00a0K\u2007", "384.6\u00a0K\u2007"),
    ],
)
def test_a_name_stands_on_one_line_as_it_is(name: str, shown: str) -> None:
    assert printable(name) == shown


def test_tables_and_sentences_and_pages_keep_their_lines() -> None:
    assert columns([("a\nb", "1"), ("c", "22")]) == ["a\\nb   1", "   c  22"]
    assert wrapped("of\x1b[1m one\nkind", 80) == ["of\\x1b[1m one kind"]
    assert esc("a\x00<b>\n\tc") == "a\\x00&lt;b&gt;\n\tc"


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("names")
    odd = write_log(folder / "odd\n\x1b[31mname.log", SAMPLE)
    (folder / "dam\naged.log").write_text("{}\n")
    return odd, write_log(folder / "curlew.log", "curlew-32/1", 450.0, 0.3)


@pytest.mark.parametrize(
    "words",
    [
        ["library", "list", "--library", "FOLDER"],
        ["library", "show", SAMPLE, "--library", "FOLDER"],
        ["library", "rank", "contrast", "--library", "FOLDER"],
        ["library", "query", "contrast > 1", "--library", "FOLDER"],
        ["results", "ODD"],
        ["compare", "ODD", "OTHER"],
        ["compare", "ODD", "ODD2"],
        ["log", "verify", "ODD"],
        ["results", "ODD.missing"],
        ["library", "show", "no\nsuch", "--library", "FOLDER"],
    ],
)
def test_every_answer_is_free_of_them(
    words: list[str], logs: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd, other = logs
    second = write_log(tmp_path / "second\n.log", SAMPLE, 380.0)
    given = {"ODD": odd, "OTHER": other, "ODD2": second, "FOLDER": odd.parent, "ODD.missing": f"{odd}.missing"}
    main([str(given.get(word, word)) for word in words])
    out, err = capsys.readouterr()
    text = out + err
    assert text
    assert not set("\x1b\r\u202e") & set(text)
    for line in text.splitlines():
        # the parts after a line break within a name would begin a line
        assert not line.startswith(("27", "name.log", "\x1b", "aged.log", "such", ".log")), text


def test_a_sample_is_named_in_full(
    logs: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")  # in fewer the list shortens it
    main(["library", "list", "--library", str(logs[0].parent)])
    out, _ = capsys.readouterr()
    assert ESCAPED in out
    assert "damaged: dam\\naged.log: this is no log of benchd" in out
    assert len([line for line in out.splitlines() if "SIMULATED" in line]) == 3  # two logs and the count


def test_pages_hold_no_sign_that_a_page_may_not(logs: tuple[Path, Path], tmp_path: Path) -> None:
    for words in (["report", str(logs[0])], ["library", "site", "--library", str(logs[0].parent)]):
        page = tmp_path / f"{words[0]}.html"
        assert main([*words, "-o", str(page)]) == 0
        text = page.read_text(encoding="utf-8")
        assert ESCAPED in text
        assert not set("\x1b\u202e\x00") & set(text)
