"""A sweep and its drift in every form of the report: the table, the details, JSON, schema, CSV, comparison."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from xml.etree import ElementTree

import jsonschema  # type: ignore[import-untyped]
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import point_words
from benchd.analysis.results import Results
from benchd.analysis.results_log import SweepRow
from benchd.analysis.uncertainty.quantity import Quantity, absent, with_note
from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import json_text, quantities, to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.data.results_schema import results_schema
from benchd.report.page.results_page import Logged, report_page, report_plots
from benchd.report.plots.picture import pictures
from benchd.report.terminal.compare_options import difference
from benchd.report.terminal.results_text import render_text
from tests.report import logged, made

VALIDATOR = jsonschema.Draft202012Validator(results_schema())

PLAN = """\
plan: swept
warm_up: none
reference: {every_min: 0.5}
sweep:
  - {control: preset, values: [warm, cool]}
  - {control: brightness, values: [0, 50, 100]}
blocks:
  - luminance: {}
  - grayscale: {steps: 21, only: [{brightness: [50, 100]}]}
"""


@pytest.fixture(scope="module")
def swept() -> Results:
    return analyse(logged.records(PLAN, simulated=True))


def section(text: str, title: str) -> str:
    found = re.search(rf"^{re.escape(title)} ·.*?(?=\n\n\S|\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"no section {title} in\n{text}"
    return found[0]


def figured(row: SweepRow, name: str, quantity: Quantity) -> SweepRow:
    """The row with another quantity for a figure."""
    return replace(row, figures={**row.figures, name: replace(row.figures[name], quantity=quantity)})


def cells(text: str, first: str) -> list[list[str]]:
    return [line.split() for line in text.splitlines() if line.split()[:1] == [first]]


def test_the_table_has_a_row_a_point_and_the_range(swept: Results) -> None:
    table = section(render_text(swept, width=120), "sweep")
    assert "sweep · preset x brightness, 6 points" in table
    points = [row[1] for row in cells(table, "warm")]
    assert points == ["0", "50", "100"] * 2, "what has no room stands in a second table"
    # By hand: 384 cd/m2 times 0.1, 0.55 and 1 of the backlight, dimmed by 0.05 %, mean of the readings 0.99987.
    assert [row[2] for row in cells(table, "cool")][:3] == ["38.385", "211.12", "383.85"]
    assert cells(table, "cool")[0][-3:] == ["-", "-", "-"], "no grayscale there"
    low, high = r"38\.38\d +[\d.]+ +0", r"383\.8\d +[\d.]+ +100"
    assert re.search(rf"brightness, 3 points +preset=warm +{low} +{high}", table)
    assert "white the target's at the luminance of the measured white; formula CIEDE2000" in " ".join(table.split())
    assert "6504" in table


def test_a_plot_of_a_sweep_says_at_which_settings(swept: Results) -> None:
    """Its file may be shown alone; the whole title can be read in it."""
    plots = report_plots([Logged(swept, LogReference("a.log", "ab" * 32), ())])
    titles = [plot.title for plot in plots]
    assert len(set(titles)) == len(titles)
    [tone] = [plot for plot in plots if plot.title == "Grayscale: luminance, preset=cool, brightness=50"]
    assert tone.text.startswith("At preset=cool, brightness=50: ")
    long = replace(tone, title=f"{tone.title}, red-gain=100, green-gain=100")
    svg = ElementTree.fromstring(pictures([long], png=False)[0].svg)
    shown = " ".join(text.text or "" for text in svg.iter("{http://www.w3.org/2000/svg}text"))
    assert long.title in shown
    first = next(text.text for text in svg.iter("{http://www.w3.org/2000/svg}text") if "Grayscale" in (text.text or ""))
    assert len(first) < len(long.title), "in lines that fit"


def test_a_diagram_of_a_sweep_names_the_points(swept: Results) -> None:
    logged_sweep = Logged(swept, LogReference("a.log", "ab" * 32), ())
    [diagram] = [plot for plot in report_plots([logged_sweep]) if plot.title == "Chromaticity"]
    svg = pictures([diagram], png=False)[0].svg
    assert swept.sweep is not None
    assert all(point_words(row) in svg for row in swept.sweep.rows)
    page = report_page([logged_sweep])
    assert "Figures of Luminance · preset=cool brightness=50" in page
    assert "preset=cool,brightness=50/" not in page, "no key of the data"


def test_remarks_on_the_grayscales_stand_under_the_table_and_on_the_page(swept: Results) -> None:
    darker = "white, code 255, is darker than the grey of code 230"
    marked = made.changed(
        swept,
        grayscale=tuple(
            replace(one, remarks=("the two gamma fits disagree: 2.1 and 1.9", *((f"{darker}: a",) if not i else ())))
            for i, one in enumerate(swept.of("grayscale"))
        ),
    )
    shown = ["the two gamma fits disagree (at preset=", f"{darker} (at preset=warm,brightness=50)"]
    text, page = " ".join(render_text(marked).split()), report_page([Logged(marked, made.LOG, ())])
    for words in shown:
        assert words in text
        assert words[1:] in page
    assert "disagree" not in render_text(swept)


def test_a_room_that_is_not_dark_is_named_under_the_table_with_its_points(swept: Results) -> None:
    assert swept.sweep is not None
    first, *others = swept.sweep.rows
    lit = with_note(first.figures["contrast"].quantity, "the room's light, 0.02 cd/m2, is 10 % of the screen's black")
    marked = replace(swept, sweep=replace(swept.sweep, rows=(figured(first, "contrast", lit), *others)))
    shown = "the room's light is more than a twentieth of the screen's black, or not known to be less"
    for words in (" ".join(render_text(marked).split()), report_page([Logged(marked, made.LOG, ())])):
        assert shown[1:] in words.replace("&#x27;", "'")
        assert f"(at {first.point})" in words
    assert shown not in " ".join(render_text(swept).split())


@pytest.mark.parametrize("width", [80, 100, 160])
def test_every_line_fits_and_says_simulated_first_and_last(swept: Results, width: int) -> None:
    text = render_text(swept, log=made.LOG, width=width)
    assert max(map(len, text.splitlines())) <= width
    assert text.splitlines()[0] == text.splitlines()[-1]
    assert text.startswith("SIMULATED")
    for word in ("nan", "inf", "None", "Quantity"):
        assert f" {word}" not in text


def test_every_block_of_every_point_is_printed(swept: Results) -> None:
    full = render_text(swept)
    for row in swept.sweep.rows if swept.sweep else ():
        assert f"{row.point}/luminance ·" in full
    blocks = [line for line in full.splitlines() if line.startswith("preset=") and "/" in line]
    assert len(blocks) == 6 + 4
    points = [line.partition("/")[0] for line in blocks]
    assert points == sorted(points, key=points.index), "all of one point together"


def test_colour_changes_no_letter(swept: Results) -> None:
    coloured = render_text(swept, colour=True)
    assert re.sub(r"\x1b\[\d+m", "", coloured) == render_text(swept)


def test_drift_is_a_row_a_point(swept: Results) -> None:
    text = section(render_text(swept), "drift")
    assert "reference patch of 100 % signal" in text
    # One at the begin of each point and one at its end; a point with a grayscale lasts long enough for a third.
    assert [row[1:3] for row in cells(text, "warm")] == [["0", "2"], ["50", "3"], ["100", "3"]]
    assert "largest change" in text


def test_drift_without_a_sweep_is_told_reading_by_reading() -> None:
    steady = "plan: steady\nwarm_up: none\nreference: {every_min: 1}\nblocks: [{grayscale: {steps: 64}}]\n"
    results = analyse(logged.records(steady))
    text = section(render_text(results), "drift")
    count = len(results.drift[0].readings)
    assert count >= 3
    assert len(re.findall(r"^ +\d+\.\d +1 +383\.85 +0\.53 ", text, re.MULTILINE)) == count
    assert re.search(r"drift +[+-]?0(\.0+)? ± [\d.]+ %/h .*\n? +session 1", text)


def test_what_is_missing_is_grouped_by_its_reason() -> None:
    gone = [
        f"preset={preset},brightness=100/luminance/{level}"
        for preset in ("warm", "cool")
        for level in ("white", "black")
    ]
    gone += [f"preset={preset},brightness={value}/reference/1" for preset in ("warm", "cool") for value in (0, 50, 100)]
    results = analyse(logged.records(PLAN, without=gone))
    assert re.search(r"brightness, 3 points +preset=warm", render_text(results, width=160))
    full = " ".join(render_text(results).split())
    assert "preset=warm,brightness=100/luminance/white: it was not measured" in full, "each by itself"
    page = report_page([Logged(results, made.LOG, ())]).partition('<section id="absent"')[2]
    assert page.count("uminance/white: it was not measured") == 1
    assert "(at preset=warm,brightness=100; preset=cool,brightness=100)" in page


def test_manual_settings_faults_and_ranges_without_a_value_are_printed(swept: Results) -> None:
    sweep = swept.sweep
    assert sweep is not None
    row = replace(sweep.rows[1], set_manually=("preset",), not_read_back=("brightness",), faults=3, control_faults=2)
    one = replace(sweep.ranges[0], missing="no white luminance at brightness 50", maximum_at=None)
    odd = replace(sweep, rows=(sweep.rows[0], row), ranges=(one, sweep.ranges[1]))
    text = section(render_text(replace(swept, sweep=odd), width=160), "sweep")
    assert "preset: set manually" in text
    assert "brightness: set, and not read back" in text
    assert f"{row.point} (2)" in text
    assert cells(text, "warm")[1][-1] == "3"
    assert "incomplete: no white luminance at brightness 50 (at preset=warm)" in text


def test_later_warm_ups_stand_beside_the_first() -> None:
    first = made.results().warm_up
    assert first is not None
    again = replace(first, stable=False, minutes=60.0)
    results = made.results(later_warm_ups=(again,))
    assert "stable after 23.0 min; again after a gap: NOT stable after 60.0 min" in render_text(results, width=160)
    assert to_json(results, made.LOG)["later_warm_ups"][0]["minutes"] == 60.0


def test_json_keeps_to_the_schema_and_holds_the_table(swept: Results) -> None:
    document = to_json(swept, made.LOG)
    VALIDATOR.validate(json.loads(json_text(document)))
    row = document["sweep"]["rows"]["preset=cool,brightness=50"]
    assert row["settings"] == {"preset": "cool", "brightness": 50}
    white = row["figures"]["white luminance"]
    assert white["quantity"] == document["blocks"]["preset=cool,brightness=50/luminance"]["white"]
    assert (white["unit"], white["better"], white["short"]) == ("cd/m2", "more", "white")
    at_point = document["figures"]["white luminance at preset=cool brightness=50"]
    assert (at_point["quantity"], at_point["block"]) == (white["quantity"], "preset=cool,brightness=50/luminance")
    assert document["sweep"]["ranges"]["brightness/preset=cool"]["maximum_at"] == 100
    drift = document["drift"]["preset=cool,brightness=50/reference"]
    assert "block" not in drift
    assert list(drift["segments"]) == ["session-1"]
    VALIDATOR.validate(json.loads(json_text(to_json(analyse(logged.records(PLAN, without=["reference"])), made.LOG))))
    plain = to_json(made.results(), made.LOG)
    assert (plain["sweep"], plain["drift"], plain["later_warm_ups"]) == (None, {}, [])


def test_the_schema_refuses_a_row_without_its_settings(swept: Results) -> None:
    document = json.loads(json_text(to_json(swept, made.LOG)))
    del document["sweep"]["rows"]["preset=cool,brightness=50"]["settings"]
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(document)


def test_csv_has_every_figure_once_and_says_simulated(swept: Results) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(to_json(swept, made.LOG)), newline="")))
    paths = [row["path"] for row in rows]
    assert len(set(paths)) == len(paths)
    assert set(paths) >= {path for path, _ in quantities(to_json(swept, made.LOG))}
    assert {
        "sweep/preset=cool,brightness=50/white luminance",
        "sweep/brightness/preset=cool/maximum",
        "preset=cool,brightness=50/reference/1/change",
        "preset=cool,brightness=50/reference/session-1/per_hour",
    } <= set(paths)
    assert all(row["simulated"] == "SIMULATED" for row in rows)


def test_a_replay_may_differ_in_time_and_troubles_and_in_nothing_else(swept: Results) -> None:
    first = to_json(swept, made.LOG)
    sweep, drift = swept.sweep, swept.drift[1]
    assert sweep is not None
    calm = replace(sweep, rows=tuple(replace(row, faults=4, control_faults=1) for row in sweep.rows))
    later = replace(drift, readings=tuple(replace(one, minutes=0.0, session=2) for one in drift.readings), segments=())
    same = to_json(replace(swept, sweep=calm, drift=(swept.drift[0], later, *swept.drift[2:])), made.LOG)
    assert difference(first, same) == []
    other = replace(sweep, rows=(figured(sweep.rows[0], "white luminance", absent("cd/m2", "gone")), *sweep.rows[1:]))
    assert any("sweep/rows" in found for found in difference(first, to_json(replace(swept, sweep=other), made.LOG)))
