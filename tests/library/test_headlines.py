"""Names of figures as they are typed, headline figures of sweeps, and the parts of uncertainty that the index keeps."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pyarrow.parquet as parquet
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines, short_names
from benchd.analysis.uncertainty.sources import Renamed, standard
from benchd.cli import main
from benchd.library.figure_names import FigureNames
from benchd.library.take import headlines_of, parts_of
from benchd.report.data.document import quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.run.log.journal import LogFile
from tests.library.conftest import House
from tests.library.made import results
from tests.report.logged import records, write

KNOWN = FigureNames(
    frozenset(
        {
            *("white luminance", "contrast", "white CCT", "contrast at brightness=50", "contrast/sequential/ratio"),
            *("maximum peak luminance", "grayscale delta E mean"),
        }
    ),
    {"white": "white luminance", "contrast": "contrast", "cct": "white CCT", "hdr-peak": "maximum peak luminance"},
)


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("white", "white luminance"),
        ("White-Luminance", "white luminance"),
        ("cct", "white CCT"),
        ("white-cct", "white CCT"),
        ("contrast at brightness=50", "contrast at brightness=50"),
        ("contrast/sequential/ratio", "contrast/sequential/ratio"),
        ("gloss", "gloss"),
        ("hdr-peak", "maximum peak luminance"),
        ("Grayscale dE00 mean", "grayscale delta E mean"),
    ],
)
def test_a_figure_is_found_by_any_of_its_names(typed: str, found: str) -> None:
    assert KNOWN.meant(typed) == found


def test_wrong_names_are_answered_with_near_ones() -> None:
    assert KNOWN.advice("contrst") == "did you mean contrast?"
    assert KNOWN.advice("whyte") == "did you mean white?"
    assert "--figures" in KNOWN.advice("quux")


def test_one_catalogue_serves_report_and_library() -> None:
    found, _ = results("colour-standard")
    of_report = {one.name: one.quantity for one in headlines(found)}
    assert {one.name: one.quantity for one, _ in headlines_of(found)} == of_report
    named = {one.name for one, _ in headlines_of(found) if one.short}
    assert {"white luminance", "gamma", "colour delta E mean of cie-test-colours"} <= named
    assert {one.short for one, _ in headlines_of(found) if one.short} <= set(short_names())
    assert {one for one in short_names() if "coverage" in one} == {"srgb-coverage", "p3-coverage", "bt2020-coverage"}


def test_parts_are_the_uncertainty_taken_apart() -> None:
    found, _ = results("quick")
    for one, _ in headlines_of(found):
        parts = parts_of(one.quantity)
        u = one.quantity.u
        if not parts:
            continue
        assert u is not None
        assert math.hypot(*(part.amount for part in parts)) == pytest.approx(u)
        assert [part.source for part in parts].count("") == 1
        assert one.quantity.sources is not None
        renamed = Renamed(one.quantity.sources, "x").contributions() or {}
        own = {source: amount for source, amount in renamed.items() if source.name.startswith("x")}
        assert next(part.amount for part in parts if part.source == "") == pytest.approx(standard(own))


def test_skew_intervals_keep_their_ends_in_index_query_and_tables(
    house: House, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Distances near zero have them. What stands in the results stands in every way out of the library."""
    path, stated = house.folder / "whole.log", {"k": 2.0, "calibration_percent": 2.0, "chromaticity_xy": 0.004}
    write(path, records("sdr-standard", simulated=True), sample="knot-24/1", uncertainty=stated)
    document = to_json(analyse(LogFile(path).records()), LogReference("whole.log", "0" * 64))
    skew = {
        name: one for name, one in quantities(document) if one["low"] is not None and one["coverage_factor"] is None
    }
    assert "grayscale/delta_e/white_luminance/mean" in skew
    assert any(one["high"] - one["value"] > 1.2 * (one["value"] - one["low"]) for one in skew.values())
    assert house.run("show", "knot-24/1", "--json") == 0
    [shown] = json.loads(capsys.readouterr().out)
    assert (
        house.run("export", "--format", "parquet", "-o", str(tmp_path / "all.parquet"), "--where", "sample = knot-24/1")
        == 0
    )
    rows = {row["path"]: row for row in parquet.read_table(tmp_path / "all.parquet").to_pylist()}
    for name, one in skew.items():
        for kept in (shown["figures"][name], rows[name]):
            assert (kept["low"], kept["high"]) == (one["low"], one["high"])
            assert (kept["expanded_uncertainty"], kept["coverage_factor"]) == (None, None)
    mean = shown["figures"]["grayscale delta E mean"]
    within = mean["high"] - 1e-6
    capsys.readouterr()
    assert house.run("query", f'"grayscale delta E mean" < {within}', "--surely") == 1
    assert house.run("query", f'"grayscale delta E mean" < {within + 2e-6}', "--surely") == 0
    assert f"({mean['low']:.1f} to {mean['high']:.1f})" in capsys.readouterr().out.replace("\u00a0", " ")


@pytest.fixture
def swept(house: House) -> House:
    write(house.folder / "swept.log", records("brightness-sweep", simulated=True), sample="knot-24/1")
    return house


def test_a_sweep_is_summed_up_by_its_brightest_point(swept: House, capsys: pytest.CaptureFixture[str]) -> None:
    whole = analyse(LogFile(swept.folder / "swept.log").records())
    assert whole.sweep is not None
    best = max(whole.sweep.rows, key=lambda row: row.figures["white luminance"].quantity.value or 0.0)
    assert swept.run("rank", "white", "--json") == 0
    rows = {one["sample"]: one for one in json.loads(capsys.readouterr().out)}
    assert rows["knot-24/1"]["figure"]["value"] == best.figures["white luminance"].quantity.value
    said = " ".join(f"{name}={value}" for name, value in best.settings.items())
    assert rows["knot-24/1"]["figure"]["settings"] == said
    assert rows["plover-27/1"]["figure"]["settings"] == ""
    assert swept.run("rank", "white") == 0
    [line] = [line for line in capsys.readouterr().out.splitlines() if "knot-24/1" in line]
    assert line.endswith(f"at {said}")
    assert swept.run("rank", f"white at {said}") == 0
    assert "1 log, highest first" in capsys.readouterr().out
    assert swept.run("query", f'"contrast at {said}" > 10') == 0
    assert "knot-24/1" in capsys.readouterr().out


def test_a_page_of_a_sweep_names_its_settings(swept: House, tmp_path: Path) -> None:
    page = tmp_path / "ranks.html"
    assert main(["library", "site", "--library", str(swept.folder), "-o", str(page)]) == 0
    assert "at brightness=" in page.read_text()
