"""Colour blocks of a plan: what they show, what a log keeps of them, and what is refused in one sentence."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from benchd.measurements.gamut.plan import face_codes
from benchd.plan.plan_store import load_plan, plan_files
from benchd.plan.steps import describe, digest, expand
from benchd.profile.charts import read_chart
from benchd.profile.profile_store import names
from benchd.profile.reading.strict_yaml import load_model
from benchd.profile.target_file import Space, Target
from tests.plan.helpers import HEAD, faults, no_file, refusal

CHART = "# source: invented\n# white: 0.3457 0.3585\nname,L,a,b\nmoss,40,-20,20\nrust,45,30,30\n"


def laid(blocks: str, head: str = HEAD, files: dict[str, str] | None = None):  # type: ignore[no-untyped-def]
    """Plan, files and steps."""
    reader = no_file if files is None else files.__getitem__
    plan = load_plan(f"{head}blocks:\n{blocks}\n", "invented.yaml", reader)
    needed = plan_files(plan, reader)
    return plan, needed, expand(plan, needed)


def test_a_gamut_shows_full_colours_and_the_faces_once() -> None:
    _, _, steps = laid("- gamut: {}")
    assert {step.labels["name"] for step in steps} == {
        *("white", "black", "red", "green", "blue", "cyan", "magenta", "yellow"),
    }
    for count in (2, 3, 5, 11):
        # n^3 - (n - 2)^3 colours lie on the faces; 602 of an 11 x 11 grid
        assert len(set(face_codes(count, 8))) == len(face_codes(count, 8)) == count**3 - (count - 2) ** 3
    _, _, steps = laid("- gamut: {volume_grid: 5, area_percent: 10}")
    assert len(steps) == 98
    assert {step.patch.kind for step in steps} == {"window"}
    assert len({step.patch.code for step in steps}) == 98


def test_the_log_keeps_every_space_of_the_shelf_smallest_first() -> None:
    plan, files, _ = laid("- gamut: {}")
    (entry,) = describe(plan, files)
    found = [space["name"] for space in entry["spaces"]]
    assert set(found) == set(names("spaces"))
    assert found[0] == "srgb"
    assert found[-1] == "bt2020"
    plan, files, _ = laid("- gamut: {spaces: [bt2020, srgb]}")
    (entry,) = describe(plan, files)
    assert [space["name"] for space in entry["spaces"]] == ["bt2020", "srgb"]
    assert entry["spaces"][0]["primaries"]["green"] == [0.170, 0.797]


def test_a_saturation_sweep_goes_from_near_white_to_the_full_colour() -> None:
    plan, files, steps = laid("- colours: {saturations: [50, 100], order: listed}")
    codes = {step.labels["name"]: step.patch.code for step in steps}
    assert codes["red-100"] == (255, 0, 0)
    assert codes["yellow-100"] == (255, 255, 0)
    assert codes["red-50"] == (208, 89, 89)  # worked by hand in u', v': 207.594 89.244 89.244
    assert codes["reference-white"] == (255, 255, 255)
    assert len(codes) == 13
    (entry,) = describe(plan, files)
    assert [one["name"] for one in entry["patches"]][:2] == ["red-50", "red-100"]
    assert not any(one["outside"] for one in entry["patches"])


def test_random_colours_are_drawn_by_seed_and_block() -> None:
    def drawn(block: str, head: str = HEAD) -> list[tuple[int, int, int]]:
        return sorted(step.patch.code for step in laid(block, head)[2])

    assert drawn("- colours: {random: 50}") == drawn("- colours: {random: 50}")
    assert drawn("- colours: {random: 50}") != drawn("- colours: {random: 50}", HEAD + "seed: 2\n")
    assert drawn("- colours: {random: 50}") != drawn("- colours: {random: 50, name: other}")
    means = [sum(code[channel] for code in drawn("- colours: {random: 2000}")) / 2001 for channel in range(3)]
    assert all(abs(mean - 127.5) < 4.0 * 73.9 / math.sqrt(2000) for mean in means)


def test_a_chart_is_coded_for_its_space_and_says_what_is_outside() -> None:
    plan, files, steps = laid("- colours: {chart: cie-test-colours}")
    (entry,) = describe(plan, files)
    by_name = {one["name"]: one for one in entry["patches"]}
    assert by_name["tcs01-greyish-red"]["code"] == [186, 137, 128]
    assert by_name["tcs12-blue"] == {**by_name["tcs12-blue"], "code": [0, 76, 145], "outside": True}
    assert [one["name"] for one in entry["patches"] if one["outside"]] == ["tcs12-blue"]
    assert "CIE 13.3" in entry["source"]
    plan, files, steps = laid("- colours: {chart: cie-test-colours, space: bt2020}")
    (entry,) = describe(plan, files)
    assert not any(one["outside"] for one in entry["patches"])
    # The curve of BT.1886 uses the screen's black: it is measured as well.
    assert "reference-black" in {step.labels["name"] for step in steps}


def test_a_file_beside_the_plan_may_hold_codes_lab_or_xyy() -> None:
    for text, code in (
        ("name,red,green,blue\nmine,10,20,30\n", [10, 20, 30]),
        ("name,x,y,Y\nmine,0.3127,0.3290,1\n", [255, 255, 255]),
        ("# white: 0.3457 0.3585\nname,x,y,Y\nmine,0.3457,0.3585,1\n", [255, 255, 255]),
        ("# white: 0.3457 0.3585\nname,L,a,b\nmine,100,0,0\n", [255, 255, 255]),
    ):
        plan, files, _ = laid("- colours: {file: mine.csv}", files={"mine.csv": text})
        (entry,) = describe(plan, files)
        assert entry["patches"][0]["code"] == code


def test_the_same_texts_give_the_same_steps_without_any_shelf() -> None:
    _, files, steps = laid("- colours: {chart: cie-test-colours}\n- gamut: {}")
    assert set(files) >= {"targets/srgb", "charts/cie-test-colours", "spaces/srgb"}
    # As a resume does it: every text comes from the log.
    text = f"{HEAD}blocks:\n- colours: {{chart: cie-test-colours}}\n- gamut: {{}}\n"
    again = load_plan(text, "x.yaml", files.__getitem__)
    assert digest(expand(again, files)) == digest(steps)


def test_one_file_more_is_one_space_or_chart_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "profiles" / "spaces").mkdir(parents=True)
    (tmp_path / "profiles" / "charts").mkdir()
    (tmp_path / "profiles" / "spaces" / "heron.yaml").write_text(
        "space: heron\nlabel: Heron (invented)\nsource: invented\nwhite: [0.31, 0.33]\n"
        "primaries: {red: [0.66, 0.33], green: [0.28, 0.65], blue: [0.15, 0.05]}\ncurve: {kind: power, exponent: 2.2}\n"
    )
    (tmp_path / "profiles" / "charts" / "moor.csv").write_text(CHART)
    monkeypatch.chdir(tmp_path)
    plan, files, _ = laid("- gamut: {}\n- colours: {chart: moor, space: heron}")
    gamut, colours = describe(plan, files)
    assert "heron" in [space["name"] for space in gamut["spaces"]]
    assert [one["name"] for one in colours["patches"]] == ["moss", "rust"]
    assert colours["space"]["name"] == "heron"


def test_a_space_on_the_shelf_that_is_none_is_told_before_anything_starts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A gamut block compares with every space on the shelf, so a faulty file there is a fault of the plan."""
    (tmp_path / "profiles" / "spaces").mkdir(parents=True)
    (tmp_path / "profiles" / "spaces" / "heron.yaml").write_text(
        "space: heron\nlabel: Heron (invented)\nsource: invented\nwhite: [0.31, 0.33]\n"
        "primaries: {red: [0.3, 0.3], green: [0.3, 0.3], blue: [0.3, 0.3]}\ncurve: {kind: srgb}\n"
    )
    monkeypatch.chdir(tmp_path)
    (line,) = faults(f"{HEAD}blocks:\n- gamut: {{}}\n")
    assert line.startswith("spaces/heron.yaml:5:12: the three primaries lie on one line")
    laid("- gamut: {spaces: [srgb]}")


@pytest.mark.parametrize(
    ("block", "said"),
    [
        ("- colours: {}", "no colours here; give saturations: [20, 40, 60, 80, 100], chart, random or file"),
        ("- colours: {chart: skin-memory, random: 5}", "'random' beside 'chart'; give each a block and a name"),
        ("- colours: {random: 5, diagram: xy}", "'diagram' goes with saturations only; remove it"),
        ("- colours: {saturations: [20, 20]}", "saturation 20 is given twice; once is enough"),
        ("- colours: {chart: cie-test-colour}", "there is no chart 'cie-test-colour'; did you mean cie-test-colours?"),
        ("- colours: {random: 5, space: sgrb}", "there is no space 'sgrb'; did you mean srgb?"),
        ("- gamut: {spaces: [p3-d50]}", "there is no space 'p3-d50'; did you mean p3-d65"),
        ("- gamut: {spaces: [display-p3]}", "space 'display-p3' is now called p3-d65"),
        ("- colours: {random: 5, space: dci-p3}", "p3-cinema; P3 with white D65, as displays have it, is p3-d65"),
        ("- gamut: {spaces: [adobe-rgb-1998]}", "space 'adobe-rgb-1998' is now called oprgb"),
        ("- colours: {chart: chart24}", "chart 'chart24' no longer comes with benchd; use cie-test-colours, or keep"),
    ],
)
def test_one_sentence_for_each_fault(block: str, said: str) -> None:
    (line,) = faults(f"{HEAD}blocks:\n{block}\n")
    assert said in line


def test_colours_of_a_target_for_greys_are_refused() -> None:
    (line,) = faults(f"{HEAD}target: gsdf\nblocks:\n- colours: {{random: 5}}\n")
    assert "for greys; name the space that makes the codes" in line


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,L,a,b\nx,50,0,0\n", "c.csv:1:1: L,a,b mean nothing without their white; add a line such as # white:"),
        ("# white: 3 4\nname,L,a,b\nx,5,0,0\n", "c.csv:1:1: white '3 4': write CIE 1931 x and y"),
        ("name,x,y\nx,.3,.3\n", "c.csv:1:1: the first line must name the columns name,L,a,b or"),
        ("name,x,y,Y\nx,0.3,0.0,1\n", "c.csv:2:7: y 0.0: use above 0 to 1"),
        ("name,x,y,Y\nx,0.3,0.3,red\n", "c.csv:2:11: Y 'red': use a plain number"),
        ("name,red,green,blue\nx,0,0,256\n", "c.csv:2:7: code 256 does not fit 8 bits"),
        ("name,x,y,Y\nx,0.3,0.3,1\nx,0.3,0.3,1\n", "c.csv:3:1: name 'x' stands in line 2 already; use another one"),
        ("name,x,y,Y\na b,0.3,0.3,1\n", "c.csv:2:1: name 'a b': use letters"),
        ("name,x,y,Y\nreference-white,0.3,0.3,1\n", "is kept for a patch that is always measured"),
        ("name,x,y,Y\nx,0.3,0.3\n", "c.csv:2:1: 3 values where the first line names 4 columns"),
        ("name,x,y,Y\n", "c.csv:1:1: no colours"),
        ("name,L,a,c\nx,1,2,3\n", "c.csv:1:10: column 'c' has no place here; use name,L,a,b"),
        ("name,red,green,bleu\nx,1,2,3\n", "c.csv:1:16: column 'bleu' has no place here; use name,red,green,blue"),
        ("name,x,y,Y\nx,0.7,0.6,1\n", "c.csv:2:3: x 0.7 and y 0.6: together they are at most 1"),
        ("# white: .31 .33\n# white: .34 .36\nname,L,a,b\nx,5,0,0\n", "c.csv:2:1: another white is given above"),
    ],
)
def test_faults_of_a_chart_have_their_place(text: str, said: str) -> None:
    assert said in str(refusal(read_chart, text, "c.csv", 8, taken=frozenset({"reference-white"})))


SPACE = (
    "space: s\nlabel: S\nsource: invented\nwhite: %s\nprimaries: {red: %s, green: %s, blue: %s}\ncurve: {kind: srgb}\n"
)


@pytest.mark.parametrize(
    ("white", "red", "green", "blue", "said"),
    [
        ("[0.31, 0.33]", "[0.6, 0.3]", "[0.4, 0.2]", "[0.2, 0.1]", "s.yaml:5:12: the three primaries lie on one line"),
        (
            "[0.31, 0.33]",
            "[0.6, 0.3]",
            "[0.6, 0.3]",
            "[0.15, 0.06]",
            "s.yaml:5:12: the three primaries lie on one line",
        ),
        (
            "[0.31, 0.33]",
            "[0.15, 0.06]",
            "[0.3, 0.6]",
            "[0.64, 0.33]",
            "s.yaml:5:12: red, green and blue run clockwise",
        ),
        ("[0.6, 0.35]", "[0.5, 0.33]", "[0.3, 0.6]", "[0.15, 0.06]", "s.yaml:4:8: white lies outside the triangle"),
        ("[0.31, 0.33]", "[0.9, 0.3]", "[0.3, 0.6]", "[0.15, 0.06]", "s.yaml:5:18: chromaticity [0.9, 0.3]"),
    ],
)
def test_primaries_that_make_no_space_are_refused(white: str, red: str, green: str, blue: str, said: str) -> None:
    assert said in str(refusal(load_model, Space, SPACE % (white, red, green, blue), "s.yaml"))
    target = (SPACE % (white, red, green, blue)).replace("space: s\nlabel: S\n", "target: s\nabout: S\n")
    assert said in str(refusal(load_model, Target, target, "s.yaml"))
