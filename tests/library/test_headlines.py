"""Names of figures as they are typed, headline figures of sweeps, and the parts of uncertainty that the index keeps."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.headline import headlines
from benchd.analysis.uncertainty import Renamed, standard
from benchd.cli import main
from benchd.library.headlines import SHORT, full_name, suggestions
from benchd.library.take import headlines_of, parts_of
from benchd.run.journal import LogFile, encode
from tests.library.conftest import House
from tests.library.made import results
from tests.report.logged import records

KNOWN = ("white luminance", "contrast", "white CCT", "contrast at brightness=50", "contrast/sequential/ratio")


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
        ("hdr-peak", "greatest peak luminance"),
    ],
)
def test_a_figure_is_found_by_any_of_its_names(typed: str, found: str) -> None:
    assert full_name(typed, KNOWN) == found


def test_wrong_names_are_answered_with_near_ones() -> None:
    assert suggestions("contrst", KNOWN) == ["contrast"]
    assert suggestions("whyte", KNOWN) == ["white"]


def test_one_catalogue_serves_report_and_library() -> None:
    found, _ = results("colour-standard")
    of_report = {one.name: one.quantity for one in headlines(found)}
    assert {one.name: one.quantity for one, _ in headlines_of(found)} == of_report
    named = {name for name in SHORT.values() if name in of_report}
    assert {"white luminance", "gamma", "colour delta E mean of chart24"} <= named
    assert {name for name in SHORT.values() if "coverage" in name} <= named


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


@pytest.fixture
def swept(house: House) -> House:
    with (house.folder / "swept.log").open("wb") as file:
        for record in records("brightness-sweep", simulated=True):
            if record.kind == "started":
                record.body["sample"] = "knot-24/1"
            file.write(encode(record))
    return house


def test_a_sweep_is_summed_up_by_its_brightest_point(swept: House, capsys: pytest.CaptureFixture[str]) -> None:
    whole = analyse(LogFile(swept.folder / "swept.log").records())
    assert whole.sweep is not None
    best = max(whole.sweep.rows, key=lambda row: row.white.value or 0.0)
    assert swept.run("rank", "white", "--json") == 0
    rows = {one["sample"]: one for one in json.loads(capsys.readouterr().out)}
    assert rows["knot-24/1"]["figure"]["value"] == best.white.value
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
