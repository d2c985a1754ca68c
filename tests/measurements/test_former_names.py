"""Names of earlier versions: their logs are read under the names of now, their plans and claims are answered."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import headlines
from benchd.errors import InputError
from benchd.library.figure_names import FigureNames
from benchd.measurements.former_names import SPACES, FormerSpace, figure_advice, list_now, space_now
from benchd.measurements.gamut.results import Gamut
from benchd.plan.plan_store import load_plan, plan_files
from benchd.profile.claim_sheet import terms_of
from benchd.profile.profile_store import find
from tests.report.logged import records

CHART = "# source: invented\n# white: 0.3457 0.3585\nname,L,a,b\ndark,37,14,15\n"


ROOT = Path(__file__).resolve().parents[2]


def test_former_names_stand_in_no_profile_and_no_document() -> None:
    former = {word.lower() for one in SPACES for word in (one.name, one.label)} | {"chart24"}
    texts = [path for path in (ROOT / "profiles").rglob("*") if path.is_file() and path.name != "CHANGES.md"]
    assert len(texts) > 50
    for path in (*texts, *(ROOT / "benchd").rglob("*.md"), ROOT / "README.md", ROOT / "DEVELOPERS.md"):
        text = path.read_text(errors="replace").lower() + path.name.lower()
        assert not [word for word in former if word in text], path


def test_a_log_of_an_earlier_version_gives_the_figures_of_now() -> None:
    """So that it is compared with new ones, and stands with them in one column of the library."""
    log = list(records("presets"))
    text = json.dumps(log[0].body)
    for one in SPACES:
        assert f'"name": "{one.now}", "about": "{one.label_now}"' in text
        text = text.replace(
            f'"name": "{one.now}", "about": "{one.label_now}"', f'"name": "{one.name}", "about": "{one.label}"'
        )
    earlier = analyse([log[0]._replace(body=json.loads(text)), *log[1:]])
    now = analyse(log)
    assert earlier.of("gamut") == now.of("gamut")
    assert headlines(earlier) == headlines(now)
    gamut = now.of("gamut")[0]
    assert isinstance(gamut, Gamut)
    assert {one.now for one in SPACES} <= {one.space for one in gamut.coverage}


def test_a_space_of_ones_own_keeps_its_name() -> None:
    assert space_now("display-p3", "Mine (invented)") == ("display-p3", "Mine (invented)")


def test_a_file_of_ones_own_is_found_under_a_former_name(tmp_path: Path) -> None:
    (tmp_path / "charts").mkdir()
    own = tmp_path / "charts" / "chart24.csv"
    own.write_text(CHART)
    assert find("charts", "chart24", user_folder=tmp_path) == own
    with pytest.raises(InputError, match="no longer comes with benchd; use cie-test-colours"):
        find("charts", "chart24", user_folder=tmp_path / "elsewhere")


def test_the_plan_of_an_earlier_log_is_read_with_the_texts_that_it_carries() -> None:
    carried = {"charts/chart24": CHART, "spaces/dci-p3": find("spaces", "p3-cinema").read_text()}
    blocks = "- colours: {chart: chart24}\n- gamut: {spaces: [dci-p3]}\n"
    plan = load_plan(f"plan: one\nblocks:\n{blocks}", "one.yaml", carried.__getitem__)
    assert carried.items() <= plan_files(plan, carried.__getitem__).items()


@pytest.mark.parametrize("former", SPACES)
def test_a_figure_by_its_former_name_is_answered(former: FormerSpace) -> None:
    with pytest.raises(ValueError, match=f"is now called coverage of {former.label_now}"):
        terms_of(f"coverage of {former.label} >= 90 %")
    assert FigureNames(frozenset(), {}).advice("chart-de-max").endswith("with the chart of now test-colours-de-max")
    known = FigureNames(frozenset({f"coverage of {former.label_now} in u'v'"}), {})
    assert known.advice(f"coverage of {former.label} in u'v'") == (
        f"it is now called coverage of {former.label_now} in u'v'"
    )


UV = "straight from white in CIE 1976 u', v', luminance of the full colour"
XY = "straight from white in CIE 1931 x, y, luminance of the full colour"


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (f"saturations 20, 40, 60, 80, 100 %, {UV}", "saturations"),
        (f"saturations 100 %, {UV}", "saturations 100 %"),
        (f"saturations 20, 40, 60, 80, 100 %, {XY}", "saturations in x, y"),
        (f"saturations 12.5, 50 %, {XY}", "saturations 12.5, 50 % in x, y"),
        ("chart cie-test-colours", "cie-test-colours"),
        ("24 random codes, seed 7", "24 random codes, seed 7"),
        ("file mine.csv", "file mine.csv"),
    ],
)
def test_a_list_of_colours_has_a_short_name_and_its_long_one_is_answered(words: str, name: str) -> None:
    assert list_now(words) == name
    assert list_now(name) == name
    if words.startswith("saturations"):
        assert figure_advice(f"colour dE00 mean of {words}") == f"is now called colour dE00 mean of {name}"
        known = FigureNames(frozenset({f"colour delta E mean of {name}"}), {})
        assert name in known.advice(f"colour delta E mean of {words}")
