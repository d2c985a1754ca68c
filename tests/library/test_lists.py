"""Lists for a person: they fit the terminal, SIMULATED stays, figures are grouped, and unnamed samples never merge."""

from __future__ import annotations

import csv
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from benchd.analysis.verdicts.comparison import Sample
from benchd.cli import main
from benchd.library.library_text import ListColumn, figure_text, sample_lines, shortened
from tests.library.conftest import House, write_log
from tests.library.made import results
from tests.report.logged import records, write

LONG = "plover-27-with-a-long-name-of-its-own"


@pytest.fixture(scope="module")
def crowded(made_logs: Path, tmp_path_factory: pytest.TempPathFactory) -> House:
    """Long names that differ in their ends, a sweep, and logs that nobody named. No test changes it."""
    folder = tmp_path_factory.mktemp("crowded") / "logs"
    shutil.copytree(made_logs, folder)
    for unit in (1, 2, 12):
        write_log(folder / f"long-{unit}.log", f"{LONG}/{unit}", 350.0 + unit)
    for white in (320.0, 330.0):
        write_log(folder / f"unnamed-{white:g}.log", "", white)
    write(folder / "swept.log", records("presets", simulated=True))
    return House(folder)


def samples_of(house: House, capsys: pytest.CaptureFixture[str]) -> list[dict[str, object]]:
    assert house.run("list", "--json") == 0
    found: list[dict[str, object]] = json.loads(capsys.readouterr().out)["samples"]
    return found


@pytest.mark.parametrize("words", [("list",), ("rank", "white"), ("query", "white > 1"), ("list", "--figures")])
@pytest.mark.parametrize("width", [60, 80, 100, 132])
def test_lists_fit_the_terminal(
    words: tuple[str, ...],
    width: int,
    crowded: House,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    assert crowded.run(*words) == 0
    printed = capsys.readouterr().out.splitlines()
    assert max(map(len, printed)) <= width, max(printed, key=len)
    assert any("of them SIMULATED" in line for line in printed)
    if words != ("list", "--figures"):
        rows = [line for line in printed if "2026-" in line]
        assert len(rows) == 10
        assert all("SIMULATED" in row for row in rows)
        if words[0] != "rank":
            shown = [row.split("  ")[0] for row in rows]
            assert len(set(shown)) == len({one["sample"] for one in samples_of(crowded, capsys)})
    if width == 80 and words == ("list",):
        assert "for want of width without" in "\n".join(printed)


def test_a_list_without_a_remark_fits_too(crowded: House) -> None:
    """Of real displays with a stated meter: the column of remarks is empty."""
    store = crowded.store()
    plain = [
        one._replace(facts=one.facts._replace(simulated=False, stated=True, complete=True)) for one in store.samples()
    ]
    column = ListColumn("white luminance", "cd/m2", "cd/m2", store.figure("white luminance")[1])
    for width in (60, 80):
        printed = sample_lines(plain, [column], width)
        assert max(map(len, printed)) <= width
        assert len([line for line in printed if "2026-" in line]) == len(plain)
    store.close()


def test_a_shortened_name_is_unique_and_finds_its_sample(
    crowded: House, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    several = [f"{LONG}/{unit}" for unit in range(30)]
    short = shortened(several, 16)
    assert len(set(short.values())) == 30
    assert max(map(len, short.values())) == 16
    alike = shortened([f"{'x' * 20}{sign}{'y' * 20}" for sign in "ab"], 16)
    assert len(set(alike.values())) == 2, "names that differ in the middle get more room"
    monkeypatch.setenv("COLUMNS", "80")
    assert crowded.run("list") == 0
    [name] = [line.split()[0] for line in capsys.readouterr().out.splitlines() if line.split()[:1] and "/12" in line]
    assert crowded.run("show", name, "--json") == 0
    assert [one["sample"] for one in json.loads(capsys.readouterr().out)] == [f"{LONG}/12"]


def test_figures_are_grouped_and_families_are_one_line(
    crowded: House, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert crowded.run("list", "--figures") == 0
    printed = capsys.readouterr().out.splitlines()
    assert len(printed) <= 60, "a screen or two"
    assert {"luminance", "colour of white", "grayscale", "gamut", "colours"} <= set(printed)
    coverage = [line for line in printed if line.strip().startswith("coverage of …")]
    assert [line.split()[4] for line in coverage] == ["u'v'", "xy"]
    text = " ".join(" ".join(printed).split())
    assert "sRGB / BT.709 (srgb-coverage); opRGB; P3 cinema; P3-D65 (p3-coverage)" in text
    assert "each has its own figures, such as 'white luminance at preset=" in text
    assert crowded.run("list", "--figures", "--json") == 0
    every = json.loads(capsys.readouterr().out)
    assert len(every) > 500, "data have them all"
    topic = {one["figure"]: one["topic"] for one in every}
    assert (topic["contrast"], topic["coverage of P3-D65 in xy"]) == ("luminance", "gamut")


def test_unnamed_samples_never_merge(house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In list, rank, --latest, export, site and conditions: a log without a name is a sample of its own."""
    logs = [write_log(house.folder / f"u{white:g}.log", "", white) for white in (310.0, 320.0)]
    # As earlier versions named what nobody had named.
    logs += [write_log(house.folder / f"{old}.log", old, 330.0) for old in ("sample", "check")]
    assert house.run("rank", "white", "--latest", "--json") == 0
    ranked = json.loads(capsys.readouterr().out)
    unnamed = [one["sample"] for one in ranked if not one["named"]]
    assert len(set(unnamed)) == 4
    assert len(ranked) == 8
    assert house.run("list", "--where", "sample = unnamed*", "--latest") == 0
    out = capsys.readouterr().out
    assert all(name in out for name in unnamed)
    assert house.run("show", unnamed[0], "--json") == 0
    assert len(json.loads(capsys.readouterr().out)) == 1
    assert house.run("export", "-o", str(tmp_path / "all.csv")) == 0
    with (tmp_path / "all.csv").open() as file:
        assert set(unnamed) <= {row["sample"] for row in csv.DictReader(file)}
    assert house.run("site", "-o", str(tmp_path / "page.html"), "--latest") == 0
    page = (tmp_path / "page.html").read_text()
    assert all(name in page for name in unnamed)
    assert "8 logs of 7 models" in page
    capsys.readouterr()
    words = ["compare", "--json", "--model", f"a={logs[0]},{logs[1]}", "--model", f"b={logs[2]}"]
    assert main(words) == 0
    compared = json.loads(capsys.readouterr().out)
    assert [len(side["logs"]) for side in compared["samples"]] == [2, 1]
    assert main(["claims", "plover-27", *map(str, logs[:2])]) == 0
    assert capsys.readouterr().out.count("unnamed 2026-") >= 2


def test_logs_without_a_name_are_units_and_those_of_one_name_are_runs() -> None:
    found, _ = results("quick")
    named, unnamed = (found, found), (replace(found, sample=""),) * 2
    assert Sample("a", named, ("1", "2")).replicate == "run"
    assert Sample("a", unnamed, ("1", "2")).replicate == "unit"


def test_in_a_narrow_list_each_sample_has_a_figure(crowded: House) -> None:
    """Displays of SDR and of HDR have few figures in common; the columns that stay are not those of one kind alone."""
    store = crowded.store()
    one, other, *_ = store.samples()
    assert one.id != other.id
    figures = store.figure("white luminance")[1]
    given = figures[next(iter(figures))]
    shown = [
        ListColumn("white luminance", "cd/m2", "cd/m2", {one.id: given}),
        ListColumn("black luminance", "cd/m2", "cd/m2", {one.id: given}),
        ListColumn("maximum peak luminance", "cd/m2", "cd/m2", {other.id: given}),
    ]
    printed = "\n".join(sample_lines([one, other], shown, 80))
    store.close()
    assert "without black luminance" in printed
    assert printed.count(figure_text("white luminance", "cd/m2", "cd/m2", given)) == 2


def test_a_setting_in_the_remarks_is_not_broken(crowded: House) -> None:
    store = crowded.store()
    swept = next(one for one in store.samples() if one.facts.plan == "presets")
    given = store.figure("white luminance")[1][swept.id]._replace(settings="brightness=100")
    column = ListColumn("white luminance", "cd/m2", "cd/m2", {swept.id: given})
    printed = sample_lines([swept], [column, *[column._replace(name=f"other {at}") for at in range(3)]], 80)
    store.close()
    assert any("brightness=100" in line for line in printed), printed
