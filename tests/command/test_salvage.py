"""A damaged log is salvaged and resumed: each step's readings count once, wherever the damage was."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchd.report.whole_file import whole_file
from benchd.run.log.journal import LogFile
from benchd.run.log.records import fold
from tests.command.conftest import Benchd

PLAN = "plan: own\nwarm_up: none\nreadings: 3\nblocks: [grayscale: {codes: [0, 128, 255]}]\n"


@pytest.mark.parametrize("kind", ["shown", "reading", "done"])
def test_a_lost_record_costs_its_step_and_nothing_counts_twice(benchd: Benchd, tmp_path: Path, kind: str) -> None:
    (tmp_path / "own.yaml").write_text(PLAN)
    benchd("run", "own.yaml", "--bench", "sim-office", "--log", "own.log")
    lines = (tmp_path / "own.log").read_bytes().splitlines(keepends=True)
    of_kind = [number for number, line in enumerate(lines) if json.loads(line)["kind"] == kind]
    lines[of_kind[-1]] = lines[of_kind[-1]].replace(b'"step"', b'"stop"')
    (tmp_path / "bad.log").write_bytes(b"".join(lines))
    salvaged = benchd("log", "salvage", "bad.log", "--log", "mended.log")
    assert "mended.log: SIMULATED, " in salvaged.stdout
    assert "Caution: patches change" in salvaged.stderr
    assert "Caution: patches change" in benchd("resume", "mended.log").stderr
    state = fold(LogFile(tmp_path / "mended.log").records())
    whole = fold(LogFile(tmp_path / "own.log").records())
    assert (state.ended, state.readings, state.counted) == (True, whole.readings, whole.counted)
    found = json.loads(benchd("results", "mended.log", "--json").stdout)
    wanted = json.loads(benchd("results", "own.log", "--json").stdout)
    assert found["blocks"]["grayscale"]["steps"][1]["luminance"]["n"] == 3
    assert len(found["blocks"]) == len(wanted["blocks"])
    benchd("replay", "mended.log", "--log", "again.log")


def test_an_output_that_is_a_device_or_a_link_is_written_to_and_stays_what_it_is(
    benchd: Benchd, tmp_path: Path
) -> None:
    benchd("check", "--bench", "sim-office", "--log", "own.log")
    (tmp_path / "to").write_text("before")
    (tmp_path / "link").symlink_to("to")
    benchd("results", "own.log", "--json", "-o", "link", "--yes")
    assert (tmp_path / "link").is_symlink()
    assert json.loads((tmp_path / "to").read_text())["schema"] == "benchd.results/2"
    assert "no space left" in benchd("results", "own.log", "-o", "/dev/full", code=2).stderr
    assert Path("/dev/full").is_char_device()
    benchd("results", "own.log", "-o", "/dev/null")
    assert Path("/dev/null").is_char_device()


def test_a_name_that_is_too_long_is_one_sentence(benchd: Benchd) -> None:
    name = "a" * 300
    for words in (("plan", name), ("results", name), ("check", "--bench", "sim-office", "--log", name)):
        said = benchd(*words, code=2).stderr
        assert "too long" in said or "no file" in said
        assert said.count("\n") == 1


def test_the_page_of_ranks_and_a_table_go_through_a_link_too(benchd: Benchd, tmp_path: Path) -> None:
    benchd("run", "quick", "--bench", "sim-office", "--log", "logs/own.log")
    for name, words in (
        ("page", ("library", "site", "--yes")),
        ("table", ("results", "logs/own.log", "--format", "parquet")),
    ):
        (tmp_path / name).symlink_to(f"{name}.file")
        benchd(*words, "-o", name)
        assert (tmp_path / name).is_symlink()
        assert (tmp_path / f"{name}.file").stat().st_size > 1000
    assert not list(tmp_path.glob(".*.part"))


def test_a_failure_while_a_file_is_written_leaves_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "kept"
    path.write_text("before")
    with pytest.raises(ZeroDivisionError), whole_file(path) as aside:
        aside.write_text("half")
        raise ZeroDivisionError
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]
