"""One screen: 22 lines of 80 columns for any plan, with the interval and the sign of every figure that is on it."""

from __future__ import annotations

import random
import re
from collections.abc import Collection
from dataclasses import replace
from functools import cache
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import of_points
from benchd.analysis.results import Absent, Doubt, Results
from benchd.analysis.uncertainty.quantity import Quantity, absent
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.errors import InputError
from benchd.report import stands_out
from benchd.report.brief import BriefFigure, BriefLine
from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import of_block, to_json
from benchd.report.data.results_schema import results_schema
from benchd.report.figure_text import figure
from benchd.report.stands_out import Remark, foremost, over, several_over, under
from benchd.report.summary import BlockLines, Summary, summary_of, what_stands_out
from benchd.report.terminal.results_text import render_block, render_text
from benchd.report.terminal.summary_text import CHECK_LINES, LINES, WIDTH, render_summary, shown
from benchd.report.terminal.sweep_text import SweepText
from benchd.report.units import behind, sentence
from tests.report import logged, made

PLANS = sorted(path.stem for path in (Path(__file__).parents[2] / "profiles" / "plans").glob("*.yaml"))
SOME_STEPS = {"sdr-standard": "uniformity/r2c3/white", "quick": "contrast/black", "hdr-quick": "tone_curve/code-1023"}


def screen(results: Results, *, check: bool = False) -> str:
    """Its summary, once it is sure that it fits and says what it must."""
    summary = summary_of(results)
    text = render_summary(summary, made.LOG, check=check)
    lines = text.splitlines()
    assert counts_what_stands_out(text, summary), text
    assert len(lines) <= (CHECK_LINES if check else LINES), text
    assert max(map(len, lines)) <= WIDTH, text
    assert text.startswith("SIMULATED: ") == results.simulated
    assert "SIMULATED" in text or not results.simulated
    for word in (" nan", " inf", "None", "Quantity"):
        assert word not in text
    return text


def counts_what_stands_out(text: str, summary: Summary) -> bool:
    """The foremost remark is there whole, the next ones after it, and the rest by its number."""
    flat = " ".join(text.split())
    kept = [remark for remark in summary.stands_out if " ".join(remark.split()) in flat]
    more = re.search(r"(\d+) more: --details\.", flat)
    return bool(kept) == bool(summary.stands_out) and len(kept) + (int(more[1]) if more else 0) == len(
        summary.stands_out
    )


@cache
def shipped(plan: str) -> Results:
    """A whole run of a shipped plan."""
    return read(plan)


def read(plan: str, *, without: Collection[str] = (), simulated: bool = True, **light: float) -> Results:
    return analyse(logged.records(plan, without=without, simulated=simulated, **light))


@pytest.mark.parametrize("plan", PLANS)
def test_every_shipped_plan_fits_one_screen(plan: str) -> None:
    results = shipped(plan)
    text = screen(results)
    assert f"{results.sample}   {results.plan}, complete   2026-03-02 " in text
    assert "meter LAPWING 0007, uncertainty NOT stated   one unit, one placement" in text
    assert "..." not in text, "nothing is cut in the middle of a sentence"
    assert "! meter uncertainty not stated" in text
    assert f"Everything: benchd results {made.LOG.file} --details" in text
    if results.sweep is None and plan != "night":
        lines = [line.name for block in summary_of(results).blocks for line in block.lines]
        assert lines
        assert all(f"\n  {name} " in text for name in lines), "a line a block, in the order of the plan"
        assert [text.index(f"\n  {name} ") for name in lines] == sorted(text.index(f"\n  {name} ") for name in lines)
    if SOME_STEPS.get(plan):
        cut = screen(read(plan, without=[SOME_STEPS[plan]]))
        assert "NOT ENDED" in cut
        assert f"\nGo on with: benchd resume {made.LOG.file}\n" in cut
        assert re.search(r"! (\d+ results absent, such as|absent:) ", cut)


def test_nothing_is_lost_when_everything_goes_wrong() -> None:
    doubt = Doubt("move", "the light did not change though the meter was to move, which nobody confirmed", ("a", "b"))
    bad = replace(
        read("verdict-sdr", without=["contrast/black", "uniformity/r2c2/white"]),
        doubts=(doubt, replace(doubt, text="the display was to be set and its light did not follow")),
        imported="a file with\na name.csv",
        sample="a sample whose name is so long that no line of eighty columns can hold it and the plan together",
        absent=tuple(Absent(f"uniformity/r{i}", "it was not measured") for i in range(40)),
        faults=7,
        sessions=3,
    )
    text = screen(bad)
    for said in (
        "NOT ENDED",
        "in doubt: the light",
        "in doubt: the display",
        "meter uncertainty not stated",
        "7 faults",
    ):
        assert said in text, text
    assert "more warnings: see --details" in text
    assert re.search(r"readings \(.*, 3\s+sessions, 7 faults\.", text), "the line goes on in the next one"
    assert not re.search(r"(?<!together)\.\.\.", text.partition("\n! ")[2]), "only the sample's name is cut"
    assert screen(made.interrupted())
    assert screen(made.results())


def test_a_block_that_gave_nothing_has_a_line_that_says_why() -> None:
    text = screen(read("hdr-sustained", without=["sustained/10", "sustained/100"]))
    assert re.search(r"\n  sustained  absent: sizes 10 % and 100 % were not measured\n", text)
    unread = replace(made.results(), absent=(Absent("depth", "this benchd knows no measurement 'hologram'"),))
    assert re.search(r"\n  depth +absent: this benchd knows no measurement 'hologram'\n", screen(unread))
    board = screen(read("sdr-standard", without=["contrast/checker/r1c1"]))
    assert re.search(r"\n  contrast +[^\n]*  checkerboard absent\n", board)


def test_a_check_has_six_lines() -> None:
    own = made.changed(made.results(bench_s=41.0, warm_up=None), uniformity=(), grayscale=(), patches=())
    assert screen(own, check=True) == (
        "! meter uncertainty not stated: ± is of the readings' standard deviation alone\n"
        "  white     384.6 cd/m2  CCT 6478 K, Duv +0.0031\n"
        "  black     0.352 cd/m2\n"
        "  contrast  1091:1       checkerboard 978:1\n"
        "443 readings in 41 s, no faults.   Log: plover-27-1/2026-03-02T1812.log\n"
    )
    doubtful = replace(own, absent=(Absent("contrast/black", "it was not measured, " * 9),), simulated=True)
    text = screen(doubtful, check=True)
    assert "(and 1 more: see results)\n" in text
    assert all(f"\n  {name} " in text for name in ("white", "black", "contrast"))
    quick = screen(read("quick"), check=True)
    assert re.search(r"^  white +383\.85 ± 0\.53 cd/m2 +CCT 6504\.0 ± 0\.1 K, Duv ", quick, re.MULTILINE)
    dark = screen(read("quick", black_cd_m2=0.0008), check=True)
    assert "< 0.005 cd/m2" in dark
    assert "> 76 000:1" in dark
    assert "black is below the meter's range (0.005 cd/m2)" in dark


def drawn_figure(rng: random.Random) -> BriefFigure:
    """Any figure: with an interval, skew or not, or a bound, or neither."""
    unit = rng.choice(["cd/m2", "1", "%", "K", "dE00", "u'v'"])
    value = rng.uniform(1.0, 9.0) * 10.0 ** rng.randint(-4, 4)
    kind = rng.choice(["interval", "bound", "bare", "absent"])
    if kind == "absent":
        return BriefFigure(absent(unit, "it was not measured, since the meter stopped answering"), unit)
    bound = rng.choice(["above", "below"]) if kind == "bound" else None
    u = 10.0 ** rng.uniform(-4, 0) * value
    sources = Fixed({Source("readings", dof=rng.choice([2.0, 9.0])): u}) if kind == "interval" else None
    quantity = Quantity(value, unit, 3, None, "ok", bound, "a reason" if bound else "", (), sources)  # type: ignore[arg-type]
    return BriefFigure(quantity, unit, rng.choice(["", "maximum"]), rng.choice(["", "at code 26"]))


@pytest.mark.parametrize("seed", range(25))
def test_no_line_loses_the_sign_of_a_bound_or_an_interval(seed: int) -> None:
    rng = random.Random(seed)
    blocks = [
        BlockLines(
            f"block-{number}",
            tuple(
                BriefLine(
                    f"figure {number} {place} {'long ' * rng.randint(0, 4)}".strip(),
                    drawn_figure(rng),
                    tuple(drawn_figure(rng) for _ in range(rng.randint(0, 3))),
                    rng.choice(["", "a note that belongs to it"]),
                )
                for place in range(rng.randint(1, 4))
            ),
        )
        for number in range(rng.randint(1, 40))
    ]
    warnings = tuple(f"a warning of {'many ' * rng.randint(0, 40)}words" for _ in range(rng.randint(0, 7)))
    remarks = tuple(f"remark {number}, {'long ' * rng.randint(0, 30)}" for number in range(rng.randint(0, 6)))
    head = ("a sample", "a plan, complete", "2026-03-02 18:12 UTC", "meter M, uncertainty stated")
    run = ("3 readings, no faults.",)
    summary = Summary(True, head, warnings, tuple(blocks), None, (), 0, (), remarks, run, "block-0")
    text = render_summary(summary, made.LOG)
    assert counts_what_stands_out(text, summary), text
    lines = text.splitlines()
    assert len(lines) <= LINES, text
    assert max(map(len, lines)) <= WIDTH, text
    counted = 0
    for block in blocks:
        for line in block.lines:
            row = next((one for one in lines if one.strip().startswith(line.name)), None)
            if row is None:
                continue
            counted += 1
            own = line.figure
            assert ("absent: " if not own.quantity.present else figure(own.quantity, own.unit, behind(own.unit))) in row
    assert counted >= min(len(blocks), 5)
    gone = re.search(r"and (\d+) more blocks?: see --details", text)
    first = [one.lines[0].name for one in blocks]
    there = [name for name in first if any(row.strip().startswith(name) for row in lines)]
    assert len(there) + (int(gone[1]) if gone else 0) == len(blocks)
    every = [line for block in blocks for line in block.lines]
    figures = [one for line in every for one in (line.figure, *line.also) if isinstance(one, BriefFigure)]
    whole = {line.name for line in every} | {shown(one) for one in figures} - {""}
    body = re.split(r"\n!.*|uncertainty stated", text)[-1]
    rest = re.split(r"\nStands out|\n3 readings|and \d+ more", body)[0]
    for known in sorted(whole, key=len, reverse=True):
        rest = rest.replace(known, "")
    assert not re.search(r"[\d<>±]", rest), "a part of a figure stands there"


def quantity(value: float, u: float | None = None) -> Quantity:
    return Quantity(value, "%", 3, sources=None if u is None else Fixed({Source("readings"): u}))


def test_a_figure_stands_out_by_its_whole_interval() -> None:
    assert over(quantity(6.0, 0.1), 5.0) == pytest.approx(1.2)
    assert over(quantity(-6.0, 0.1), 5.0) == pytest.approx(1.2)
    assert over(quantity(6.0, 1.0), 5.0) == 0.0, "its interval holds the threshold"
    assert over(quantity(6.0), 5.0) > 1.0, "no interval is known"
    assert over(quantity(4.0, 0.1), 5.0) == 0.0
    assert over(absent("%", "gone"), 5.0) == 0.0
    assert over(quantity(6.0)._replace(bound="below"), 5.0) == 0.0
    assert under(quantity(50.0, 1.0), 90.0) == pytest.approx(1.8)
    assert under(quantity(89.0, 1.0), 90.0) == 0.0
    assert under(quantity(50.0)._replace(bound="above"), 90.0) == 0.0
    assert foremost([Remark(1.5, "a"), Remark(4.0, "b"), Remark(2.0, "b"), Remark(1.1, "c")]) == ["b", "a", "c"]


@pytest.mark.parametrize("seed", range(20))
def test_colours_that_are_off_are_counted_as_a_table_has_them_and_how_many_surely(seed: int) -> None:
    rng = random.Random(seed)
    several = [quantity(rng.uniform(0.0, 8.0), rng.choice([0.01, 0.5, 2.0])) for _ in range(rng.randint(1, 9))]
    in_table = sum((one.value or 0.0) > 3.0 for one in several)
    surely = [over(one, 3.0) for one in several if over(one, 3.0)]
    found = several_over(several, 3.0, "colour", "dE00")
    if found is None:
        assert not surely
        return
    assert found[0] == max(surely)
    numbers = [int(one) for one in re.findall(r"\b\d\b", found[1])]
    assert numbers == [in_table, len(several), 3, *([len(surely)] if len(surely) < in_table else [])]
    assert "surely" in found[1]


def test_more_points_than_lines_are_summed_up_by_both_ends() -> None:
    text = screen(shipped("sweep-night"))
    assert "33 points of preset, brightness; lowest and highest of each figure" in text
    assert re.search(r"white luminance +38\.\d+ ± [\d.]+ cd/m2 at \w+ 0\n? +383\.\d+ ± [\d.]+ cd/m2 at \w+ 100", text)
    assert "non-uniformity of white" in text, "a figure of each block"


SATURATIONS = "colour dE00 mean of saturations 100 %"
HEADLINE = "headline: [contrast, Gray-DE-Max, p3-coverage, gamma, colour dE00 mean]\n"
BLOCKS = """blocks:
  - luminance: {}
  - contrast: {}
  - grayscale: {steps: 5}
  - grayscale: {steps: 5, name: grayscale-again, white: measured}
  - colours: {name: sat, saturations: [100]}
  - gamut: {spaces: [srgb]}
"""


P3 = "coverage of P3-D65 in u'v'"


def test_a_plan_names_the_figures_of_its_summary() -> None:
    results = read(f"plan: own\nwarm_up: none\n{HEADLINE}{BLOCKS}")
    wanted = ["contrast", "grayscale delta E maximum", P3, "gamma", "colour delta E mean"]
    assert results.settings["headline"] == wanted
    names = [line.name for block in summary_of(results).blocks for line in block.lines]
    assert names == [
        *("contrast", "grayscale dE00 maximum", "grayscale dE00 maximum (grayscale-again)"),
        *(P3, "gamma", "gamma (grayscale-again)", SATURATIONS),
    ]
    text = screen(results)
    assert f"  {P3}  absent: no block of the plan measured it" in text
    assert f"grayscale dE00 maximum, {SATURATIONS}: white taken as the target's" in " ".join(text.split())
    assert "grayscale dE00 maximum (grayscale-again): white taken as the measured one" in text
    assert "\n  white " not in text

    plan = f"plan: own\nwarm_up: none\nsweep: [{{control: brightness, values: [0, 50]}}]\n{HEADLINE}{BLOCKS}"
    results = read(plan)
    swept = screen(results)
    assert re.search(r"brightness +contrast :1 ", swept)
    assert f"! no block of the plan measured {P3}" in swept
    lacking = re.search(r"and (\d+) more figures a point: see --details", swept)
    assert lacking
    on_screen = sum(len(re.split(" {2,}", row.strip())) - 1 for row in re.findall(r"^ +50  .*", swept, re.MULTILINE))
    assert results.sweep
    every = of_points(results.sweep.rows)
    assert int(lacking[1]) == len(every) - on_screen, "all that the data have, not the needed ones alone"
    narrow = [name for name in summary_of(results).columns if not name.startswith("gray")][:4]
    sweep = results.sweep
    assert sweep is not None
    text = SweepText(sweep, narrow, len(narrow), 50, ())
    table = text.points(22, partly=False)
    assert sum("brightness" in line for line in table) > 1, "what has no room beside stands in further tables"
    assert text.points(5, partly=False) == []
    assert text.points(6, partly=True)[-1].endswith("see --details")


SWEPT = """plan: swept
warm_up: none
sweep: [{control: brightness, values: [0, 50, 100]}]
blocks:
  - luminance: {}
  - contrast: {}
  - uniformity: {grid: 3x3, levels_percent: [100, 50]}
  - grayscale: {steps: 8}
  - gamut: {spaces: [srgb, p3-d65]}
"""


def test_what_stands_out_of_a_sweep_outlasts_empty_lines_and_lesser_figures() -> None:
    results = replace(read(SWEPT), sessions=3)  # one line more
    found = what_stands_out(results)
    assert found
    text = screen(results)
    assert all(head in text for head in ("white cd/m2", "contrast", "uniformity", "dE00", "coverage")), "of each block"
    whole = render_text(results).partition("\nStands out\n")[2].partition("\n\n")[0]
    assert " ".join(whole.split()) == " ".join(map(sentence, found)), "all of it among the details"
    assert to_json(results, made.LOG)["stands_out"] == list(map(sentence, found))


def test_a_plan_of_many_blocks_is_cut_and_the_rest_is_counted() -> None:
    blocks = "".join(f"  - luminance: {{name: place-{number}}}\n" for number in range(30))
    text = screen(read(f"plan: many\nwarm_up: none\nblocks:\n{blocks}"))
    shown_names = re.findall(r"^  white, place-(\d+) ", text, re.MULTILINE)
    assert shown_names == [str(number) for number in range(len(shown_names))]
    assert f"  and {30 - len(shown_names)} more blocks: see --details\n" in text


def test_a_block_is_shown_in_full_by_its_name() -> None:
    results = shipped("sdr-standard")
    text = render_block(results, "grayscale", width=80)
    assert "grayscale · 21 steps" in text
    assert "luminance ·" not in text
    assert text.splitlines()[0] == text.splitlines()[-1]
    assert text.startswith("SIMULATED")
    with pytest.raises(InputError, match=r"sdr-standard has no block 'grayscal'; did you mean grayscale\?"):
        render_block(results, "grayscal")
    swept = shipped("brightness-sweep")
    whole, one = render_block(swept, "contrast"), render_block(swept, "brightness=50/contrast")
    assert whole.count("contrast · white over black") == 11
    assert one.count("contrast · white over black") == 1
    with pytest.raises(InputError, match=r"did you mean brightness=5?0/contrast"):
        render_block(swept, "brightness=51/contrast")
    assert "reference patch of 100 % signal" in render_block(swept, "drift")
    with pytest.raises(InputError, match=r"known are: luminance, contrast, each also as POINT/NAME$"):
        render_block(swept, "zzz")
    cut = render_block(read("quick", without=["contrast/black"]), "contrast")
    assert "contrast/sequential: black not measured" in cut
    assert "the run has not ended" in cut


@pytest.mark.parametrize("plan", ["sdr-standard", "brightness-sweep"])
def test_the_data_of_one_block_are_those_of_the_log_without_all_others(plan: str) -> None:
    results = shipped(plan)
    document = to_json(results, made.LOG)
    own = dict.fromkeys(block.rpartition("/")[2] for block in document["blocks"])
    rows = csv_text(document).splitlines()
    for name in (*own, *list(document["blocks"])[-2:]):
        one = of_block(document, name)
        assert list(one) == list(document)
        assert one["blocks"].items() <= document["blocks"].items()
        kept = {block for block in document["blocks"] if name in (block, block.rpartition("/")[2])}
        assert one["blocks"].keys() == kept
        wanted = [row for row in rows if any(row.startswith(f"{block}/") for block in (*kept, "conditions"))]
        assert csv_text(one).splitlines() == [rows[0], *wanted]
    assert {figure for name in own for figure in of_block(document, name)["figures"]} == document["figures"].keys()
    assert of_block(document, "drift")["drift"] == document["drift"]
    assert not of_block(document, "drift")["blocks"]
    jsonschema.validate(of_block(document, "drift"), results_schema())


def test_every_threshold_is_told_to_the_reader() -> None:
    topic = (Path(stands_out.__file__).parents[1] / "command" / "topics" / "results.md").read_text(encoding="utf-8")
    told = re.findall(r"(?m)^- .*: (?:beyond|above|below) ([\d.]+)", topic.partition("## What stands out")[2])
    thresholds = [value for name, value in vars(stands_out).items() if name.isupper()]
    assert [float(one) for one in told] == thresholds, "in the order of the file"


def test_a_remark_of_several_points_says_at_how_many_and_where_farthest() -> None:
    results = read(SWEPT)
    points = [row.point for row in results.sweep.rows] if results.sweep else []
    said = what_stands_out(results)
    assert any(one.endswith("(at every point)") for one in said), said
    fewer = replace(results, blocks={name: one for name, one in results.blocks.items() if points[0] not in name})
    assert any(one.endswith("(at 2 of 3 points)") for one in what_stands_out(fewer))
    alone = replace(fewer, blocks={name: one for name, one in fewer.blocks.items() if points[1] not in name})
    assert any(one.endswith("(at brightness=100)") for one in what_stands_out(alone))
    assert Remark(2.0, "8 to 42 % darker").same == Remark(3.0, "9 to 3.5 % darker").same
    assert Remark(2.0, "8 % darker").same != Remark(2.0, "8 % brighter").same


def test_uniformity_says_whether_it_is_from_the_centre_or_between_any_two_places() -> None:
    from benchd.measurements.uniformity.show import PART

    [block] = made.results().of("uniformity")
    for centre, said in (("r3c3", "from centre"), (None, "between any two places")):
        level = replace(block.levels[0], centre=centre)
        [line] = PART.brief(replace(block, levels=(level,))).lines
        also = [one.at for one in line.also if isinstance(one, BriefFigure)]
        assert all(one.startswith(said) for one in (line.figure.at, *also))


def test_the_details_of_a_sweep_have_every_figure_in_their_tables() -> None:
    results = read(SWEPT)
    assert results.sweep
    text = render_text(results, width=80).partition("\nsweep · ")[2].partition("\n  how: ")[0]
    rows = [re.split(" {2,}", row.strip()) for row in text.splitlines() if re.match(r" +50  ", row)]
    assert len(rows) > 1, "in further tables"
    heads = text.partition("contrast")[0]
    assert "brightness" in heads
    for head in ("uniformity", "coverage", "dE00", "u'", "Duv"):
        assert head in text
    assert sum(len(row) - 1 for row in rows) >= len(of_points(results.sweep.rows))
