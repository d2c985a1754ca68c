"""`benchd library` as a user types it: what it prints, exit codes, and SIMULATED wherever a figure is."""

from __future__ import annotations

import csv
import json
import shutil
import sys
from pathlib import Path

import pytest
from pyarrow import parquet

from benchd.cli import main
from benchd.library.entry import Figure
from benchd.library.library_text import figure_text, heading
from benchd.report.uncertain import FIELDS
from tests.library.conftest import House, write_log
from tests.report.logged import records, write


def lines(capsys: pytest.CaptureFixture[str]) -> list[str]:
    return capsys.readouterr().out.splitlines()


def test_list_names_samples_figures_and_damage(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    (house.folder / "bad.log").write_text("x\n")
    assert house.run("list") == 0
    printed = lines(capsys)
    assert printed[0].split("  ")[0] == "sample"
    rows = [line for line in printed if line.startswith(("plover", "curlew", "avocet"))]
    assert len(rows) == 4
    assert all(row.endswith("SIMULATED, meter not stated, ± of repeatability only") for row in rows)
    assert "4 logs, 4 of them SIMULATED" in printed
    assert printed[-1].startswith("damaged: bad.log: this is no log of benchd; give the log that")


def test_a_copy_of_a_log_is_named(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(house.folder / "plover-27-1.log", house.folder / "twin.log")
    assert house.run("list") == 0
    assert lines(capsys)[-1] == "copy: twin.log is the same log as plover-27-1.log and counts once"


def test_commands_that_are_printed_name_the_library(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (("rank", "zzzzzz"), ("show", "zzzzzz"), ("query", "zzzzzz > 3")):
        assert house.run(*words) == 2
        assert f"--library {house.folder}` names them all" in capsys.readouterr().err
    assert main(["library", "add", "x.log", "--library", str(house.folder / "none")]) == 2
    assert "make it, or name the folder" in capsys.readouterr().err


def test_a_point_of_a_sweep_is_found_by_what_is_clear(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    write(house.folder / "swept.log", records(SWEPT, simulated=True))
    for typed in ("white at brightness=100 preset=warm", "white luminance at brightness=50"):
        assert house.run("rank", typed) == 0
        assert "at preset=warm brightness=" in capsys.readouterr().out
    assert house.run("rank", "white at brightness=100") == 2
    said = capsys.readouterr().err
    for preset in ("standard", "warm"):
        assert f"'white luminance at preset={preset} brightness=100'" in said
    assert house.run("rank", "white at brightness=7") == 2
    assert "the points that have it: 'white luminance at " in capsys.readouterr().err


SWEPT = """\
plan: swept
warm_up: none
sweep:
  - {control: preset, values: [standard, warm]}
  - {control: brightness, values: [50, 100]}
skip: [{preset: standard, brightness: 50}]
blocks:
  - luminance: {}
"""


def test_a_log_whose_operator_skipped_a_point_lacks_that(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    made = list(records(SWEPT, simulated=True))
    point = made[1].step.partition("/")[0]
    left = [one.step for one in made if one.kind == "done" and one.step.startswith(f"{point}/")]
    kept = [one for one in made if one.step not in left]
    kept.insert(1, made[1]._replace(kind="skipped", step="", attempt=0, body={"point": point, "steps": left}))
    write(house.folder / "swept.log", (one._replace(seq=seq) for seq, one in enumerate(kept, 1)))
    assert house.run("list") == 0
    assert lines(capsys)[-1] == f"swept.log lacks {point}: the operator skipped this point of the sweep"


def test_rank_parts_groups_and_marks_shared_ranks(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    assert house.run("rank", "contrast") == 0
    printed = lines(capsys)
    order = [line.split()[1 if line.split()[1] != "=" else 2] for line in printed[1:] if "SIMULATED" in line][:4]
    assert order == ["avocet-27/1", "curlew-32/1", "plover-27/1", "plover-27/2"]
    assert "> " in printed[1]
    assert house.run("rank", "black") == 0, "black: the lowest first"
    assert "avocet-27/1" in lines(capsys)[1]
    assert house.run("rank", "white", "--lowest", "--limit", "1") == 0
    printed = lines(capsys)
    assert "avocet-27/1" in printed[1]
    assert "3 more: --limit 4" in printed


def test_rank_as_json_holds_everything(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    assert house.run("rank", "contrast", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found[0]["sample"] == "avocet-27/1"
    assert all(one["figure"]["simulated"] and one["notice"] == "SIMULATED" for one in found)
    assert {"value", *FIELDS, "n", "s", "status", "bound", "why", "unit"} <= set(found[0]["figure"])


def test_query_tells_what_can_not_be_told(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    assert house.run("query", "contrast >= 1000 and sample = plover-27/*") == 0
    printed = lines(capsys)
    assert [line.split()[0] for line in printed[1:3]] == ["plover-27/1", "plover-27/2"]
    assert "Contrast" in printed[0], "what was asked for is shown"
    assert house.run("query", "contrast >= 1000000") == 1, "nothing fulfils it"
    told = capsys.readouterr()
    assert told.out == "no log\n"
    assert "1 log left out" in told.err
    assert house.run("query", "contrst > 3") == 2
    assert "condition:1:1: no sample has a figure 'contrst'; did you mean contrast?" in capsys.readouterr().err
    assert house.run("query", "white > 1", "--show", "black,cct", "--json") == 0
    assert len(json.loads(capsys.readouterr().out)) == 4


def test_latest_is_the_newest_log_of_a_sample(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    write_log(house.folder / "old.log", "curlew-32/1", 440.0, wall="2025-01-01T00:00:00.000Z")
    assert house.run("rank", "white", "--json") == 0
    assert len(json.loads(capsys.readouterr().out)) == 5
    assert house.run("rank", "white", "--json", "--latest") == 0
    found = json.loads(capsys.readouterr().out)
    assert [one["sample"] for one in found][:1] == ["curlew-32/1"]
    assert found[0]["started"].startswith("2026")
    assert len(found) == 4


def test_show_finds_a_sample_by_name_file_or_digest(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    assert house.run("show", "curlew-32/1", "--json") == 0
    [by_name] = json.loads(capsys.readouterr().out)
    for other in (by_name["sha256"][:10], str(house.folder / "curlew-32-1.log"), "curlew-32"):
        assert house.run("show", other, "--json") == 0
        assert json.loads(capsys.readouterr().out) == [by_name]
    assert house.run("show", "curlew-32/1", "--details") == 0
    printed = capsys.readouterr().out
    assert printed.startswith("curlew-32/1  SIMULATED, meter not stated, ± of repeatability only\n")
    figures = [line for line in printed.splitlines() if line.startswith(("  luminance/", "  contrast/"))]
    assert len(figures) > 5
    assert all("SIMULATED" in line for line in figures)
    assert house.run("show", "curlew-33/1") == 2
    assert "did you mean curlew-32/1?" in capsys.readouterr().err


def test_add_copies_a_log_once(house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = write_log(tmp_path / "elsewhere" / "run.log", "dunlin-24/a b", 300.0)
    assert house.run("add", str(log)) == 0
    assert (house.folder / "dunlin-24-a-b" / "run.log").read_bytes() == log.read_bytes()
    assert "copied to" in capsys.readouterr().out
    assert house.run("add", str(log)) == 0
    assert "is there already as" in capsys.readouterr().out
    other = write_log(tmp_path / "other" / "run.log", "dunlin-24/a b", 301.0)
    assert house.run("add", str(other)) == 0
    assert sorted(path.name for path in (house.folder / "dunlin-24-a-b").iterdir()) == ["run-2.log", "run.log"]
    (tmp_path / "bad.log").write_text("x\n")
    assert house.run("add", str(tmp_path / "bad.log")) == 1
    assert not list(house.folder.rglob("bad*.log"))


def test_rebuild_needs_the_logs_alone(house: House, capsys: pytest.CaptureFixture[str]) -> None:
    index = house.folder / "benchd-library.sqlite"
    index.write_bytes(b"SQLite format 3\0" + b"\xff" * 5000)
    assert house.run("list") == 2
    assert "is damaged" in capsys.readouterr().err
    assert house.run("rebuild") == 0
    assert "4 logs with results, 0 damaged, 4 files" in capsys.readouterr().out
    assert house.run("list") == 0


def test_export_has_a_row_for_every_figure(house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert house.run("export", "--format", "parquet", "-o", str(tmp_path / "all.parquet")) == 0
    assert house.run("export", "-o", str(tmp_path / "all.csv")) == 0
    table = parquet.read_table(tmp_path / "all.parquet")
    with (tmp_path / "all.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert table.num_rows == len(rows)
    assert table.schema.metadata[b"notice"] == b"SIMULATED"
    assert {row["simulated"] for row in rows} == {"SIMULATED"}
    for wide, row in zip(table.to_pylist(), rows, strict=True):
        assert (wide["path"], wide["sample"], wide["log"]) == (row["path"], row["sample"], row["log"])
        assert wide["value"] == (float(row["value"]) if row["value"] else None)
        assert (wide["bound"] or "") == row["bound"]
    assert f"{table.num_rows} rows of 4 logs, 4 of them SIMULATED" in capsys.readouterr().out


def test_without_pyarrow_one_sentence_says_what_is_missing(
    house: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert house.run("export", "--format", "parquet", "-o", str(tmp_path / "x.parquet")) == 2
    assert "Parquet needs the package pyarrow" in capsys.readouterr().err
    assert list(tmp_path.glob("*x.parquet*")) == []


def test_what_stands_in_the_way_is_a_sentence(house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["library", "list", "--library", str(tmp_path / "none")]) == 2
    assert "there is no folder" in capsys.readouterr().err
    assert house.run("rank", "gloss") == 2
    assert "no sample has a figure 'gloss'" in capsys.readouterr().err
    assert house.run("export", "-o", str(tmp_path / "no" / "x.csv")) == 2
    assert "can't be written" in capsys.readouterr().err
    page = tmp_path / "page.html"
    page.write_text("mine")
    assert house.run("site", "-o", str(page)) == 2
    assert "exists already and is left as it is" in capsys.readouterr().err
    assert page.read_text() == "mine"
    assert house.run("site", "-o", str(page), "--where", "sample = nobody") == 2
    shutil.rmtree(house.folder)
    house.folder.mkdir()
    assert house.run("list") == 0
    assert capsys.readouterr().out == "no log\n"


def test_the_index_may_stand_elsewhere(house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (house.folder / "benchd-library.sqlite").unlink()
    assert house.run("list", "--index", str(tmp_path / "own.sqlite")) == 0
    assert (tmp_path / "own.sqlite").exists()
    assert not (house.folder / "benchd-library.sqlite").exists()


def test_no_uncertainty_is_zero() -> None:
    """Readings without scatter by a meter of which nothing is stated: nothing is known, and nothing says ± 0."""
    figure = Figure(384.62, 0.0, 0.0, 2.0, None, 384.62, 384.62, 3, 0.0, "ok", None, "", "")
    assert figure_text("white luminance", "cd/m2", "cd/m2", figure) == "384.6"
    assert (
        figure_text("white luminance", "cd/m2", "cd/m2", figure._replace(expanded_uncertainty=0.42)) == "384.62 ± 0.42"
    )


def test_a_contrast_has_its_unit_as_in_every_report() -> None:
    figure = Figure(1100.8, 6.7, 3.35, 2.0, None, 1094.1, 1107.5, 3, 0.0, "ok", None, "", "")
    assert figure_text("contrast", "1", "1", figure, with_unit=True) == "1100.8:1 ± 6.7"
    assert figure_text("contrast", "1", "1", figure._replace(bound="above"), with_unit=True) == "> 1100:1"
    assert heading("contrast", "1", "1") == "Contrast, :1"
    assert heading("gamma", "1", "gamma") == "Gamma"


def test_a_skew_interval_keeps_its_ends() -> None:
    figure = Figure(1.57, None, None, None, None, 1.08, 2.40, 3, 0.0, "ok", None, "", "")
    assert figure_text("grayscale delta E mean", "1", "dE00", figure) == "1.57 (1.08 to 2.40)"
