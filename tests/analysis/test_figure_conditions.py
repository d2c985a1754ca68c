"""Like with like: a figure holds for its conditions, and is compared and weighed only with figures of the same ones."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.figure_conditions import conditions_text, differing, steps_text
from benchd.analysis.log.places import patch_words
from benchd.analysis.log.results_run import Offset
from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.verdicts.claim_conditions import conditions_of
from benchd.analysis.verdicts.comparison import Comparison, Difference, Sample, compare
from benchd.analysis.verdicts.panel import same_panel
from benchd.plan.measurement import plan_part
from benchd.plan.plan import Plan
from benchd.plan.plan_store import load_plan
from benchd.report.data.log_reference import LogReference
from benchd.report.data.verdicts import comparison_json
from benchd.report.page.compare_page import comparison_page, comparison_plots
from benchd.report.sections.comparison import comparison_sections
from benchd.report.terminal.section_text import sections_text
from tests.report import made
from tests.report.logged import records

EQUAL = (0, 26, 51, 77, 102, 128, 153, 179, 204, 230, 255)
HDR = {"transfer": "pq", "bits": 10, "range": "full", "peak_cd_m2": 1000.0}


@pytest.fixture(scope="module")
def srgb() -> Results:
    return analyse(records("sdr-standard"))


@pytest.fixture(scope="module")
def bt1886() -> Results:
    return analyse(records("sdr-standard", "bt1886"))


def plan_of(block: str, more: str) -> Plan:
    text = f"plan: drawn\nabout: one block\n{more}blocks:\n{block}"
    return load_plan(text, "drawn.yaml", lambda name: name)


def figure(log: Results, name: str) -> Figure:
    return next(one for one in headlines(log) if one.name == name)


def compared(*logs: Results) -> Comparison:
    return compare([Sample(name, (log,), (name,)) for name, log in zip("abc", logs, strict=False)])


def of(comparison: Comparison, name: str) -> Difference:
    found = next(row.differences[1] for row in comparison.rows if row.headline.name == name)
    assert found is not None
    return found


def test_the_target_is_part_of_a_colour_difference_and_not_of_a_luminance(srgb: Results, bt1886: Results) -> None:
    held = {"target", "white", "formula", "steps", "patch"}
    assert dict(figure(srgb, "grayscale delta E mean").conditions).keys() == held
    found = compared(srgb, bt1886)
    one = of(found, "grayscale delta E mean")
    assert (one.answer, one.difference, one.verdict) == ("not compared", None, None)
    assert "target srgb" in one.why
    assert "against bt1886" in one.why
    assert of(found, "white luminance").difference is not None
    assert of(found, "gamma").difference is not None
    assert of(compared(srgb, srgb), "grayscale delta E mean").difference is not None


def test_every_way_of_showing_a_comparison_says_so(srgb: Results, bt1886: Results) -> None:
    found = compared(srgb, bt1886)
    references = [[LogReference(name, "0" * 64)] for name in "ab"]
    samples = [Sample(name, (log,), (name,)) for name, log in (("a", srgb), ("b", bt1886))]
    text = " ".join(sections_text(comparison_sections(found, []), simulated=False).split())
    page = comparison_page(found, samples, references, [], [])
    for shown in (text, page):
        assert "measured under different conditions, so not compared: target srgb: " in shown
        assert "holds for grid 5 x 5" in shown
    left = sum(one is not None and one.answer == "not compared" for row in found.rows for one in row.differences)
    both = len(found.rows) - left
    assert left > 0
    assert f"b against a · {both} figures compared, {left} not compared" in text
    assert f"{found.tested} differences judged together" in text
    assert f"{both - found.tested} more without a test" in text, "the counts of heading and footnote agree"
    [row] = [row for row in comparison_json(found, references, [])["rows"] if row["figure"] == "grayscale delta E mean"]
    assert [side["conditions"]["target"][:4] for side in row["sides"]] == ["srgb", "bt18"]
    assert row["differences"][1]["difference"] is None


def test_logs_of_one_sample_under_two_conditions_have_no_mean(srgb: Results, bt1886: Results) -> None:
    samples = [Sample("model", (srgb, bt1886), ("1", "2")), Sample("other", (srgb,), ("3",))]
    found = compare(samples)
    row = next(row for row in found.rows if row.headline.name == "grayscale delta E mean")
    assert row.sides[0].quantity is None
    one = row.differences[1]
    assert one is not None
    assert "they have no mean" in one.why
    assert "have no mean" in " ".join(sections_text(comparison_sections(found, []), simulated=False).split())
    assert next(row for row in found.rows if row.headline.name == "white luminance").sides[0].quantity is not None


def test_sdr_and_hdr_are_not_compared(srgb: Results) -> None:
    hdr = replace(srgb, settings={**srgb.settings, "signal": HDR})
    assert conditions_text(figure(hdr, "white luminance").conditions) == "signal PQ"
    assert figure(srgb, "white luminance").conditions == ()
    found = compared(srgb, hdr)
    assert {row.differences[1].answer for row in found.rows if row.differences[1]} == {"not compared"}
    assert "signal SDR against PQ" in of(found, "contrast").why
    assert {one.feature for one in same_panel(srgb, hdr).evidence} <= {
        *("resolution", "colour of black", "pattern of uniformity")
    }


@pytest.mark.parametrize(
    ("name", "field", "changes"),
    [
        ("checkerboard contrast", "contrast", {"columns": 6}),
        ("non-uniformity of white", "uniformity", {"columns": 3, "rows": 3}),
    ],
)
def test_cells_and_grids_are_part_of_their_figures(
    srgb: Results, name: str, field: str, changes: dict[str, Any]
) -> None:
    [block] = srgb.of(field)
    if field == "contrast":
        other = replace(block, checkerboard=replace(block.checkerboard, **changes))
    else:
        other = replace(block, levels=tuple(replace(level, **changes) for level in block.levels))
    unlike = made.changed(srgb, **{field: (other,)})
    one = of(compared(srgb, unlike), name)
    assert (one.answer, one.difference) == ("not compared", None)
    assert "different conditions" in one.why


def test_window_formula_and_rule_are_part_of_their_figures() -> None:
    log = made.results()
    gamma = figure(log, "gamma")
    assert dict(gamma.conditions) == {"fit": gamma.how, "patch": "full screen"}
    gray = log.of("grayscale")[0]
    other = made.changed(log, grayscale=(replace(gray, primary="white_measured"),))
    first, second = (figure(one, "grayscale delta E mean").conditions for one in (log, other))
    assert "white the target's at the luminance of the measured white against the measured one" in differing(
        first, second
    )
    assert differing(first, first) == ""


def test_a_figure_of_a_window_is_not_one_of_the_full_screen(srgb: Results) -> None:
    [gray] = srgb.of("grayscale")
    window = made.changed(srgb, grayscale=(replace(gray, patch="10 % window, surround 0 %"),))
    for name in ("grayscale delta E mean", "grayscale delta E maximum", "gamma"):
        one = of(compared(srgb, window), name)
        assert (one.answer, one.difference) == ("not compared", None)
        assert "patch full screen against 10 % window, surround 0 %" in one.why
    claimed = conditions_of("10 % window", window, figure(window, "grayscale delta E mean"))
    assert [(each.state, each.found) for each in claimed] == [("met", "read on a window of 10 %")]


def test_the_block_of_a_plan_says_its_window() -> None:
    """From the plan's keys to the condition: area and surround, of greys and of HDR colours."""
    shown = patch_words({"area_percent": 10.0, "surround_percent": 20.0})
    assert shown == "10 % window, surround 20 %"
    assert patch_words({"area_percent": 10.0}) == "10 % window, surround not recorded"
    plan = plan_of("  - grayscale: {steps: 5, area_percent: 10, surround_percent: 20}\n", "")
    assert {"area_percent": 10.0, "surround_percent": 20.0}.items() <= plan_part(plan.blocks[0].kind).describe(
        plan, plan.blocks[0], {}
    ).items()
    plan = plan_of("  - colour_levels: {area_percent: 18}\n", "signal: {transfer: pq}\n")
    assert plan_part(plan.blocks[0].kind).describe(plan, plan.blocks[0], {})["area_percent"] == 18.0


def test_listed_steps_are_named_and_equal_ones_counted() -> None:
    assert steps_text(EQUAL, [code / 255 for code in EQUAL]) == "11"
    assert steps_text([0, 10, 255], [0.0, 10 / 255, 1.0]) == "3: 0, 10, 255"
    assert steps_text([26, 128, 230], [26 / 255, 128 / 255, 230 / 255]) == "3: 26, 128, 230"
    assert steps_text([64, 283, 502, 721, 940], [0.0, 0.25, 0.5, 0.75, 1.0]) == "5"


def test_the_margin_of_a_grid_and_the_room_that_was_subtracted_are_conditions(srgb: Results) -> None:
    name = "non-uniformity of white"
    held = {"grid": "5 x 5", "margin": "10 %", "between": "any two places"}
    assert dict(figure(srgb, name).conditions) == held, "and not from the centre"
    off = Offset("ambient", "", "off", (), Quantity(0.2, "cd/m2"), 12, "")
    dark = replace(srgb, offsets=(off,))
    assert "room its light not subtracted against its light subtracted" in of(compared(srgb, dark), "contrast").why
    assert of(compared(srgb, replace(srgb, offsets=(replace(off, subtracted=0),))), "contrast").difference is not None


def test_plots_of_a_comparison_overlay_grayscales_of_one_target_only(srgb: Results, bt1886: Results) -> None:
    alike = comparison_plots([Sample(name, (log,), (name,)) for name, log in (("a", srgb), ("b", srgb))])
    unlike = comparison_plots([Sample(name, (log,), (name,)) for name, log in (("a", srgb), ("b", bt1886))])
    names = [[plot.name for plot in plots if plot.name.endswith("delta-e")] for plots in (alike, unlike)]
    assert names == [["compared-grayscale-delta-e"], ["compared-grayscale-delta-e", "compared-grayscale-2-delta-e"]]
