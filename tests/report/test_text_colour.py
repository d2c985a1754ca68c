"""Colour blocks as text, JSON and CSV: every figure with its diagram, white, aim and formula beside it."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import jsonschema  # type: ignore[import-untyped]
import pytest

from benchd.analysis.results import Results
from benchd.measurements.colours.show import brief
from benchd.patch.model import Code
from benchd.profile.colour_codes import Triple
from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import json_text, quantities, to_json
from benchd.report.data.results_schema import results_schema
from benchd.report.terminal.results_text import render_text
from tests.analysis.colour_logs import measured, perfect
from tests.report.made import LOG

BLOCKS = """\
- gamut: {volume_grid: 3}
- colours: {name: sweep, saturations: [50, 100], also: [76, 94]}
- colours: {name: chart, chart: cie-test-colours}
- colours: {name: many, random: 60}
"""


def wide(code: Code) -> Triple:
    x, y, z = perfect("p3-d65")(code)
    return (x + 0.1, y + 0.1, z + 0.1)


@pytest.fixture(scope="module")
def results() -> Results:
    return measured(BLOCKS, wide)


def test_no_gamut_figure_without_its_diagram(results: Results) -> None:
    text = render_text(results, width=100)
    assert "u'v' 1976" in text
    assert "xy 1931" in text
    assert "the measured white as Lab white" in text
    assert "Lab white D50, after Bradford adaptation" in text
    row = next(line for line in text.splitlines() if line.strip().startswith("sRGB / BT.709"))
    # P3-D65 holds sRGB; what black adds to its primaries takes a hair of it. 1.2556 and 1.3565 without black.
    shown = [float(cell) for cell in row.split()[3:7]]
    assert shown == pytest.approx([100.0, 100.0, 125.56, 135.65], abs=1.0)
    assert max(map(len, text.splitlines())) <= 100


def test_every_average_says_its_white_aim_adaptation_and_formula(results: Results) -> None:
    text = " ".join(render_text(results, width=100).split())
    for words in (
        "screen's luminance. Lab white: the space's white x 0.3127 y 0.3290 at the luminance of the measured white",
        "own white and luminance. Lab white: the measured white. Adaptation: Bradford, of the targets from",
        "CIEDE2000 after ISO/CIE 11664-6",
        "CIE 1994 for graphic arts, kL 1, K1 0.045, K2 0.015, the target as reference (not symmetric)",
        "1 colour outside the space, held against the clamped codes that were shown",
        "* outside the space: its codes are clamped",
        "the worst 40 of 60; the data have them all",
        "CIE 13.3",
    ):
        assert words in text


def test_a_colour_that_the_space_does_not_hold_is_marked_wherever_it_is_named() -> None:
    """Unclamped on a perfect screen it alone is off: in the short results, among the worst, and in its own row."""
    found = measured("- colours: {chart: cie-test-colours, aim: unclamped}", perfect("srgb"))
    (block,) = found.of("colours")
    assert [value for value in brief(block).lines[0].also if value.at == "at tcs12-blue*"]
    assert brief(block).lines[0].note.endswith("; * outside srgb")
    text = render_text(found, width=140)
    (average,) = [line for line in text.splitlines() if line.lstrip().startswith("dE00, unclamped, target's ")]
    assert "tcs12-blue*," in average
    assert "* outside the space" in text


@pytest.mark.parametrize("width", [80, 100, 140])
def test_tables_fit_the_page(results: Results, width: int) -> None:
    assert max(map(len, render_text(results, width=width).splitlines())) <= width


def test_the_data_fit_the_schema_and_the_table_has_every_figure(results: Results) -> None:
    document = json.loads(json_text(to_json(results, LOG)))
    jsonschema.Draft202012Validator(results_schema()).validate(document)
    paths = dict(quantities(document))
    for path in (
        "gamut/coverage/srgb/coverage_uv",
        "gamut/volumes/d50/volume",
        "gamut/additivity/white/ratio",
        "gamut/hue_shifts/red/lab",
        "gamut/colours/blue/luminance",
        "sweep/accuracy/cie94/mean",
        "chart/accuracy/other_aim/maximum",
        "chart/tcs12-blue/error/hue",
    ):
        assert path in paths, path
    rows = list(csv.DictReader(io.StringIO(csv_text(to_json(results, LOG)))))
    assert {"chart/tcs12-blue/error/total", "gamut/coverage/bt2020/area_ratio_xy"} <= {row["path"] for row in rows}


def test_a_light_that_does_not_add_up_is_said_with_what_to_do(results: Results) -> None:
    def limiting(code: Code) -> Triple:
        x, y, z = perfect("srgb")(code)
        share = 1.0 / (1.0 + sum(code) / 765.0)
        return (share * x, share * y, share * z)

    text = render_text(measured("- gamut: {}", limiting), width=100)
    assert "the light does not add up" in text
    assert "area_percent: 10" in text
    assert "does not add up" not in render_text(results)


def test_simulated_colours_say_so(results: Results) -> None:
    simulated = replace(results, simulated=True)
    assert render_text(simulated).startswith("SIMULATED")
    document = to_json(simulated, LOG)
    assert all(figure["simulated"] for _, figure in quantities(document))
