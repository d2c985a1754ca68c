"""Figures that hold for different conditions: never in one rank, nor in one column of the page of ranks."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.library.publish import distinct, site_page
from benchd.report.data.document import to_json
from benchd.report.data.held import held
from benchd.report.data.log_reference import LogReference
from tests.library.conftest import House
from tests.report.logged import records, write

TARGETS = {"knot-24/1": "srgb", "knot-24/2": "srgb", "ruff-27/1": "bt1886"}


@pytest.fixture
def judged(house: House) -> House:
    """Beside its four logs three grayscales, one of them against another target."""
    for number, (sample, target) in enumerate(TARGETS.items()):
        made = records("sdr-standard", target, white_cd_m2=300.0 + number, simulated=True)
        write(house.folder / f"gray{number}.log", made, sample=sample, technology="white-led")
    return house


@pytest.mark.parametrize("name", ["gray-de-mean", "grayscale/delta_e/white_luminance/mean"])
def test_a_rank_is_of_one_target(judged: House, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert judged.run("rank", name) == 0
    out = capsys.readouterr().out
    ranks = out.split("rank  sample")[1:]
    assert len(ranks) == 2
    assert all(sample in ranks[0] for sample in ("knot-24/1", "knot-24/2"))
    assert "ruff-27/1" not in ranks[0]
    assert "target srgb: sRGB curve after IEC 61966-2-1" in ranks[0].partition("rank  ")[0]
    assert "target bt1886" in ranks[1]
    assert "2 ranks: figures that hold for different conditions are not ranked together" in out
    assert judged.run("rank", name, "--json") == 0
    lines = json.loads(capsys.readouterr().out)
    assert [line["rank"] for line in lines if line["sample"] == "ruff-27/1"] == [1]
    assert len({line["figure"]["conditions"] for line in lines}) == 2


def test_what_needs_no_target_is_ranked_together(judged: House, capsys: pytest.CaptureFixture[str]) -> None:
    assert judged.run("rank", "white") == 0
    assert capsys.readouterr().out.count("rank  sample") == 1
    assert judged.run("rank", "luminance/white") == 0
    assert capsys.readouterr().out.count("rank  sample") == 1
    assert judged.run("rank", "gray-de-mean", "--where", "target = srgb") == 0
    assert capsys.readouterr().out.count("rank  sample") == 1


def test_the_page_of_ranks_has_a_column_for_each(judged: House, tmp_path: Path) -> None:
    store = judged.store()
    page = site_page(store, store.samples(), "all")
    heads = {figure.name: figure for figure in page.figures}
    assert heads["gray-de-mean"].title == "Grayscale ΔE₀₀ mean (target srgb)"
    assert heads["gray-de-mean-2"].title == "Grayscale ΔE₀₀ mean (target bt1886)"
    places = [[figure.name for figure in page.figures].index(name) for name in ("gray-de-mean", "gray-de-mean-2")]
    for row in page.rows:
        cells = [row.cells[place] is not None for place in places]
        wanted = TARGETS.get(row.sample)
        assert cells == [wanted == "srgb", wanted == "bt1886"]
    store.close()
    assert judged.run("site", "-o", str(tmp_path / "ranks.html")) == 0
    text = re.sub(r"<[^>]+>", " ", (tmp_path / "ranks.html").read_text())
    assert "What figures hold for" in text
    assert "target bt1886: curve after ITU-R BT.1886, Annex 1" in text


def test_samples_side_by_side_say_what_their_figures_hold_for(
    judged: House, capsys: pytest.CaptureFixture[str]
) -> None:
    assert judged.run("query", "gray-de-mean < 50") == 0
    out = capsys.readouterr().out
    assert re.search(r"grayscale dE00 mean: holds for target srgb: .* \(knot-24/1, knot-24/2\)", out)
    assert re.search(r"grayscale dE00 mean: holds for target bt1886: .* \(ruff-27/1\)", out)
    assert judged.run("show", "ruff-27/1") == 0
    assert re.search(r"Grayscale dE00 mean, Grayscale dE00 maximum: holds for target bt1886", capsys.readouterr().out)


def test_a_few_words_tell_conditions_apart() -> None:
    assert distinct(["target srgb: a curve; steps 11", "target bt1886: another; steps 11"]) == [
        "target srgb",
        "target bt1886",
    ]
    assert distinct(["", "signal PQ"]) == ["no condition", "signal PQ"]
    assert distinct(["target own: a", "target own: b"]) == ["1", "2"]


def test_tables_say_what_each_figure_holds_for(judged: House, tmp_path: Path) -> None:
    assert judged.run("export", "-o", str(tmp_path / "all.csv")) == 0
    with (tmp_path / "all.csv").open(newline="") as file:
        rows = {(row["sample"], row["path"]): row["conditions"] for row in csv.DictReader(file)}
    mean = "grayscale/delta_e/white_luminance/mean"
    assert rows["knot-24/1", mean] == rows["knot-24/2", mean]
    assert rows["knot-24/1", mean].startswith("target srgb: ")
    assert rows["ruff-27/1", mean].startswith("target bt1886: ")
    assert "convention white_luminance" in rows["ruff-27/1", mean]
    assert rows["ruff-27/1", "luminance/white"] == ""
    assert "target" not in rows["ruff-27/1", "uniformity/white/r1c1/delta_uv"]
    assert "columns 5; rows 5" in rows["ruff-27/1", "uniformity/white/non_uniformity"]


def test_every_point_of_a_sweep_and_hdr_hold_for_what_they_do(tmp_path: Path) -> None:
    found = analyse(records("presets", without=()))
    for path, _, under in held(to_json(found, LogReference("a.log", "0" * 64))):
        if path.endswith("/delta_e/white_luminance/mean") and "grayscale" in path:
            assert under.startswith("target srgb: ")
            break
    else:
        raise AssertionError("no grayscale of a point")
    document = to_json(
        replace(found, settings={**found.settings, "signal": {"transfer": "pq"}}), LogReference("a", "0")
    )
    assert all(under.startswith("signal PQ") for _, _, under in held(document))
