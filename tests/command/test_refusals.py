"""What a bench can't do is refused by `plan --bench` and `run` alike."""

from __future__ import annotations

from pathlib import Path
from zlib import crc32

from benchd.run.log.journal import encode
from benchd.run.log.records import Record
from tests.command.conftest import ROOT, Benchd

RUN = ("run", "hdr-quick", "--sample", "plover-1")


def test_plan_and_run_refuse_alike(benchd: Benchd, tmp_path: Path) -> None:
    """First by what the shipped bench states; then, where it states nothing, by what its screen reported."""
    said = {benchd(*words, "--bench", "sim-office", code=2).stderr for words in (("plan", "hdr-quick"), RUN)}
    assert len(said) == 1
    assert "screen of bench sim-office emits SDR" in said.pop()
    text = (ROOT / "profiles/benches/sim-office.yaml").read_text()
    silent = tmp_path / "silent.yaml"
    silent.write_text(text.replace(", signal: sdr, bits: 8", "").replace("bench: sim-office", "bench: silent"))
    bench = ("--bench", str(silent))
    assert "not known before it is opened" in benchd("plan", "hdr-quick", *bench).stdout
    assert "not known before it is opened" in benchd("plan", "hdr-quick", "--json", *bench).stderr
    assert "screen sim-1 emits SDR" in benchd(*RUN, *bench, code=2).stderr
    assert not (tmp_path / "data" / "benchd" / "logs").exists()
    assert "screen sim-1 (last opened" in benchd("plan", "hdr-quick", *bench, code=2).stderr


def test_what_names_a_file_is_checked_before_anything_is_measured(benchd: Benchd, tmp_path: Path) -> None:
    words = ("--reference", "sim-office", "--bench", "sim-office-colorimeter")
    said = benchd("correct", "two words", *words, code=2).stderr
    assert said.startswith("the correction's name 'two words': use letters, digits")
    assert not (tmp_path / "data" / "benchd" / "logs").exists()
    (tmp_path / "file").write_text("")
    said = benchd("new", "measurement", "haze", "--output", "file/haze", code=2).stderr
    assert said == "file/haze can't be written (Not a directory); name another folder: --output DIR\n"
    # Installed beside it, a package of the name would hide this one, or another that others need.
    for name in ("benchd", "numpy"):
        assert f"there is a package '{name}' on this machine" in benchd("new", "measurement", name, code=2).stderr


def test_a_plan_that_leaves_out_every_point_is_refused(benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "none.yaml").write_text(
        "plan: none\nsweep:\n  - {control: brightness, values: [0, 50]}\nskip: [{brightness: [0, 50]}]\n"
        "blocks: [luminance: {}]\n"
    )
    assert "none.yaml:4:1: every point is left out" in benchd("plan", "none.yaml", code=2).stderr


def test_readings_of_a_run_with_a_warm_up_come_back_from_the_open_format(benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "own.yaml").write_text("plan: own\nwarm_up: {until: stable}\nblocks: [luminance: {}]\n")
    benchd("run", "own.yaml", "--bench", "sim-office", "--log", "own.log")
    benchd("results", "own.log", "--format", "colour-text", "-o", "own.txt")
    assert "warm-up/consecutive" in (tmp_path / "own.txt").read_text()
    assert "2 of 2 steps" in benchd("import", "own.txt", "--plan", "own.yaml", "--log", "again.log").stdout


def test_a_log_of_a_newer_benchd_is_not_called_damaged(benchd: Benchd, tmp_path: Path) -> None:
    line = encode(Record(1, "w", "s", 5, "started", "", 0, {}))
    head = line[: line.rindex(b',"crc"')].replace(b'"v":1', b'"v":9', 1)
    (tmp_path / "new.log").write_bytes(head + b',"crc":"%08x"}\n' % crc32(head))
    said = benchd("results", "new.log", code=2).stderr
    assert "one of a newer benchd ('started' of version 9" in said
    assert "salvage" not in said


def test_a_dialect_that_can_not_be_read_is_refused_by_all_three(benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "terse.yaml").write_text("meter: terse\nunit: candles\n")
    text = (ROOT / "profiles/benches/sim-office.yaml").read_text().replace("bench: sim-office", "bench: own")
    (tmp_path / "own.yaml").write_text(text.replace("meter: {dialect: terse-line", "meter: {dialect: ./terse.yaml"))
    bench = ("--bench", str(tmp_path / "own.yaml"))
    said = {benchd(command, "quick", *bench, code=2).stderr.splitlines()[0] for command in ("plan", "run")}
    assert len(said) == 1
    assert "terse.yaml:" in said.pop()


def test_a_target_that_judges_nothing_is_said(benchd: Benchd, tmp_path: Path) -> None:
    (tmp_path / "own.yaml").write_text(
        "plan: own\nwarm_up: none\nsignal: {transfer: pq, bits: 10}\nblocks: [peak: {areas_percent: [10], for_s: 10}]\n"
    )
    benchd("run", "own.yaml", "--bench", "sim-hdr-lcd", "--log", "own.log")
    said = benchd("results", "own.log", "--target", "bt1886").stderr
    assert said == "own.log: an HDR signal has a scale of its own, so --target bt1886 judges nothing here\n"
