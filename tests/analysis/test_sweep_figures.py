"""A sweep is points x catalogue: any figure of any block within it is summed up, compared and claimed."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import POINT, headlines, of_points
from benchd.analysis.results import Absent, Results
from benchd.analysis.results_log import SweepRow
from benchd.analysis.sweep_points import at_point, in_order
from benchd.analysis.verdicts.claim_verdicts import Claim, check_claims
from benchd.analysis.verdicts.comparison import Sample, compare
from benchd.errors import InputError
from benchd.library.take import headlines_of
from benchd.report.page import results_page
from benchd.report.sections.comparison import by_points, comparison_sections
from benchd.report.terminal.budget_text import figures_of
from benchd.report.terminal.section_text import sections_text
from tests.report import logged, made

PLAN = """\
plan: swept
warm_up: none
sweep:
  - {control: brightness, values: [50, 100]}
blocks:
  - luminance: {}
  - contrast: {kinds: [sequential, checkerboard]}
  - uniformity: {grid: 2x2, levels_percent: [100]}
"""
NAMES = ("checkerboard contrast", "non-uniformity of white", "white CCT")


OF_TWO = """\
plan: two
warm_up: none
sweep:
  - {control: preset, values: [standard, low blue]}
  - {control: brightness, values: [50, 100]}
blocks:
  - luminance: {}
  - uniformity: {grid: 2x2, levels_percent: [100], only: [{brightness: 100, preset: standard}]}
"""


@pytest.fixture(scope="module")
def two() -> Results:
    return replace(analyse(logged.records(OF_TWO, simulated=True)), uncertainty={"calibration_percent": 1.0})


@pytest.fixture(scope="module")
def swept() -> Results:
    return analyse(logged.records(PLAN, simulated=True))


def test_every_figure_of_a_point_is_in_the_catalogue(swept: Results) -> None:
    found = {one.name: one for one in headlines(swept)}
    assert swept.sweep is not None
    for row in swept.sweep.rows:
        for name in NAMES:
            one = found[f"{name} at brightness={row.settings['brightness']}"]
            assert one.quantity == row.figures[name].quantity
            assert one.conditions == row.figures[name].conditions
    assert dict(found["checkerboard contrast at brightness=50"].conditions) == {"cells": "4 x 4"}


def test_it_is_compared_claimed_and_taken_into_the_library(swept: Results) -> None:
    compared = compare([Sample("a", (swept,), ("0",)), Sample("b", (swept,), ("1",))])
    names = {row.headline.name for row in compared.rows}
    assert {f"{name} at brightness=100" for name in NAMES} <= names
    claim = Claim("non-uniformity of white at brightness=100", None, 90.0, "%", "t", "t", "brightness=100")
    [outcome] = check_claims([claim], [swept])
    assert outcome.outcome != "not measured"
    [finding] = outcome.findings
    assert [one.state for one in finding.conditions] == ["met"]
    taken = {one.name: settings for one, settings in headlines_of(swept)}
    assert taken["non-uniformity of white at brightness=50"] == "brightness=50"
    assert "non-uniformity of white" in taken, "of the point with the most white luminance too"


def of_light(figure: str, conditions: str = "") -> Claim:
    return Claim(figure, 300.0, None, "cd/m2", "t", "t", conditions)


@pytest.mark.parametrize(
    ("figure", "conditions", "point"),
    [
        ("white luminance at preset=low blue brightness=100", "", "preset=low blue brightness=100"),
        ("white luminance at brightness=100 preset=Low Blue", "", "preset=low blue brightness=100"),
        ("white luminance at brightness=100", "preset standard", "preset=standard brightness=100"),
        ("white luminance", "brightness 50 %, preset: standard, in the dark", "preset=standard brightness=50"),
        ("non-uniformity of white", "", "preset=standard brightness=100"),
    ],
)
def test_a_claim_finds_its_point(two: Results, figure: str, conditions: str, point: str) -> None:
    """By its own words, by its conditions, or because one point alone has the figure."""
    [outcome] = check_claims([of_light(figure, conditions)], [two])
    [finding] = outcome.findings
    assert finding.headline is not None
    assert finding.headline.name.endswith(f" at {point}")


@pytest.mark.parametrize(
    ("figure", "conditions", "said"),
    [
        ("white luminance", "", "4 points of a sweep over preset, brightness, and the claim names no single one"),
        ("white luminance", "brightness 50", "2 points of a sweep"),
        ("white luminance", "brightness 80", "none of them at brightness=80"),
        ("white luminance at brightness=80", "", "none of them at brightness=80"),
        ("white luminance at volume=3", "", "none of them at volume=3"),
    ],
)
def test_where_several_points_are_left_none_is_picked(two: Results, figure: str, conditions: str, said: str) -> None:
    [outcome] = check_claims([of_light(figure, conditions)], [two])
    assert outcome.outcome == ("not measured" if "none of them" in said else "point not named")
    [finding] = outcome.findings
    assert said in finding.why


def test_a_point_stated_for_all_is_that_of_a_claim_which_names_none(two: Results) -> None:
    claims = [of_light("white luminance"), of_light("white luminance", "brightness 50")]
    first, second = check_claims(claims, [two], {"preset": "standard", "brightness": "100"})
    assert [one.headline and one.headline.name for one in (*first.findings, *second.findings)] == [
        "white luminance at preset=standard brightness=100",
        "white luminance at preset=standard brightness=50",
    ]


def test_no_point_is_said_to_fit_a_condition_that_the_log_contradicts(two: Results) -> None:
    [outcome] = check_claims([of_light("white luminance", "hdr")], [two])
    assert outcome.outcome == "point not named"
    assert "the signal was SDR, the claim is for hdr" in outcome.findings[0].why


def test_a_point_alone_has_the_figures_that_the_sweep_has_there(two: Results) -> None:
    def names(*logs: Results) -> set[str]:
        return {in_order(row.headline.name) for row in compare([Sample(*one) for one in _pair(*logs)]).rows}

    at = {"preset": "standard", "brightness": "100"}
    alone = names(at_point(two, at), at_point(two, at))
    assert {f"{name} at brightness=100 preset=standard" for name in alone} == {
        name for name in names(two, two) if name.endswith(" at brightness=100 preset=standard")
    }
    assert "white x" not in alone


def test_a_comparison_of_sweeps_names_each_point_once_in_its_table_and_cuts_no_list(two: Results) -> None:
    found = compare([Sample(*one) for one in _pair(two, two)])
    text = sections_text(comparison_sections(found, []), simulated=True, width=100)
    for point in ("preset=standard brightness=50", "preset=low blue brightness=100"):
        assert text.count(f"b against a at {point}\n") == 1
    rows = [line for line in text.splitlines() if line.startswith("  white luminance ")]
    assert len(rows) == 4
    assert not any("=" in row for row in rows)
    answers = text.partition("\n\nb against a at ")[0]
    assert answers.count("white luminance") == 1
    assert "at every point: white luminance" in answers
    assert "at preset=standard brightness=100: non-uniformity of white" in " ".join(answers.split())


@pytest.mark.parametrize(("most", "folded"), [(6, 0), (3, 5)])
def test_blocks_of_a_sweep_are_folded_alike(
    two: Results, most: int, folded: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(results_page, "MAX_OVERLAID", most)
    page = results_page._written([results_page.Logged(replace(two, uncertainty=None), made.LOG, ())], None)
    assert len(re.findall("<summary>(?:Luminance|Uniformity) · preset=", page)) == folded


def test_names_are_grouped_by_the_points_that_they_share() -> None:
    every = [f"brightness={size}" for size in (0, 20, 50, 100)]
    names = [
        f"{name} at {point}"
        for point in every
        for name in ("contrast", "white x")
        if name[0] == "c" or point != every[2]
    ]
    assert by_points(names, every) == "at every point: contrast; at every point but brightness=50: white x"
    assert (
        by_points(["contrast at brightness=0", "contrast at brightness=100"], every) == "at brightness=0, 100: contrast"
    )
    assert by_points(["contrast", "gamma"], [""]) == "contrast, gamma"


def _pair(*logs: Results) -> list[tuple[str, tuple[Results], tuple[str]]]:
    return [(label, (one,), (label,)) for label, one in zip("ab", logs, strict=True)]


def test_the_name_that_is_proposed_works(two: Results) -> None:
    [outcome] = check_claims([of_light("white luminance")], [two])
    proposed = outcome.findings[0].why.partition("in the claim: ")[2]
    [outcome] = check_claims([of_light(proposed)], [two])
    assert outcome.outcome == "met", "the point with the highest white luminance is proposed"


def test_a_claim_of_a_point_says_why_a_log_without_a_sweep_is_left_out(two: Results) -> None:
    claim = of_light("white luminance at preset=standard brightness=100")
    plain = made.results(sample="plain")
    [outcome] = check_claims([claim], [plain])
    assert "plain has white luminance, but swept no settings" in outcome.findings[0].why
    [outcome] = check_claims([claim], [plain, two])
    assert outcome.outcome == "met"
    assert "plain has white luminance, but swept no settings" in outcome.left_out[0]


def test_a_block_that_cannot_be_read_here_is_the_reason() -> None:
    why = "measurement 'gloss' is of a package that is not installed here; install it"
    whole = made.results(sample="one")
    blocks = {name: one for name, one in whole.blocks.items() if one.kind != "contrast"}
    [outcome] = check_claims(
        [Claim("contrast", 1000.0, None, "1", "t", "t", "")],
        [replace(whole, blocks=blocks, absent=(Absent("contrast", why),))],
    )
    assert outcome.findings[0].why == f"one lacks contrast: {why}"


def test_a_budget_is_asked_for_at_a_point(two: Results) -> None:
    for name in ("white at brightness=100 preset=low blue", "non-uniformity of white"):
        [found] = figures_of(two, made.LOG, name)
        assert " at preset=" in found.name
    with pytest.raises(InputError, match="at 2 points of a sweep; write 'white luminance at preset=standard bri"):
        figures_of(two, made.LOG, "white luminance at brightness=50")


def test_no_figure_of_a_point_stands_twice(swept: Results) -> None:
    """White and black of the contrast block stand in where no block of luminance is; its contrast is its own."""
    names = [one.name for one in headlines(swept)]
    assert "contrast at brightness=50" in names
    assert not [name for name in names if "(" in name]


def test_sweeps_in_another_order_of_controls_are_compared(two: Results) -> None:
    first, second = OF_TWO.splitlines(keepends=True)[3:5]
    turned = analyse(logged.records(OF_TWO.replace(first + second, second + first), simulated=True))
    compared = compare([Sample("a", (two,), ("0",)), Sample("b", (turned,), ("1",))])
    assert "white luminance at preset=low blue brightness=100" in {row.headline.name for row in compared.rows}


def test_at_a_point_only_its_own_settings_are_conditions(two: Results) -> None:
    """A log that sweeps, compared at one point with one that stood there: nothing is unlike but what was not swept."""
    alone = at_point(two, {"preset": "standard", "brightness": "100"})
    known = {one.key: one for one in alone.conditions}
    assert (known["preset"].value, known["brightness"].value) == ("standard", 100)
    still = replace(alone, settings={key: value for key, value in alone.settings.items() if key != POINT})
    assert compare([Sample(*one) for one in _pair(alone, still)]).conditions == {}
    gain = replace(alone, settings={**alone.settings, POINT: f"{alone.settings[POINT]} red-gain=40"})
    assert compare([Sample(*one) for one in _pair(gain, still)]).conditions == {POINT: ("red-gain=40", "-")}


UNDER_WAY = """\
plan: under-way
warm_up: none
sweep:
  - {control: preset, values: [standard, warm, cool]}
blocks:
  - luminance: {}
  - contrast: {kinds: [sequential]}
  - grayscale: {steps: 5}
  - grayscale: {name: evening, steps: 3}
"""


def test_a_complete_point_is_shown_whole_however_far_the_next_one_is() -> None:
    """A block has one column, under one name at every point, whatever of it is measured yet."""
    records = list(logged.records(UNDER_WAY, simulated=True))
    whole = analyse(records).sweep
    assert whole is not None
    names = of_points(whole.rows).keys()
    steps = [record.step.partition("/")[0] for record in records]
    second, third = steps.index("preset=warm"), steps.index("preset=cool")
    for cut in range(second + 1, third + 1):
        results = analyse(records[:cut])
        assert results.sweep is not None
        [complete] = [row for row in results.sweep.rows if row.point == "preset=standard"]
        assert of_points(results.sweep.rows).keys() == names, f"cut after record {cut}"
        assert present(complete) == present(next(row for row in whole.rows if row.point == complete.point))
        assert complete.figures.keys() == names


def present(row: SweepRow) -> set[str]:
    return {name for name, one in row.figures.items() if one.quantity.present}
