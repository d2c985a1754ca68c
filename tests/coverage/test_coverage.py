"""A small seeded study of the one in `tests.coverage`: enough to see an interval that is badly wrong."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from benchd.patch.model import field, grey
from benchd.plan.space import Space
from benchd.plan.strict_yaml import load_model
from sim.displays import Display
from sim.scene import Scene
from sim.sensor import SensorModel
from sim.truth import truth_of
from tests.coverage.__main__ import BEGIN, DOCUMENT, markdown, write_docs
from tests.coverage.gamuts import APART, AT_FULL, BT709, drawn_spaces
from tests.coverage.study import Tally, family, out_of_range, study
from tests.coverage.trial import Checked, drawn_display, truth_figures

TRIALS = 12
LEAST_OF_ONE_KIND = 8
"""Of twelve: with 95 % each, fewer come about once in 35 000 (binomial)."""


@pytest.fixture(scope="module")
def tallies() -> dict[str, Tally]:
    return study(TRIALS)


def test_no_kind_of_figure_misses_often(tallies: dict[str, Tally]) -> None:
    single = {name: tally for name, tally in tallies.items() if tally.figures == tally.trials == TRIALS}
    assert len(single) > 30
    assert {name: tally.held for name, tally in single.items() if tally.held < LEAST_OF_ONE_KIND} == {}


def test_all_together_hold_the_truth_about_as_often_as_they_say(tallies: dict[str, Tally]) -> None:
    figures = sum(tally.figures for tally in tallies.values())
    held = sum(tally.held for tally in tallies.values())
    # Figures of one trial share one meter's errors, so that twelve trials scatter by some per cent.
    assert 0.88 <= held / figures <= 0.995


@pytest.mark.parametrize(
    "kind",
    [
        "luminance/white",
        "luminance/black",
        "luminance/white_chromaticity/cct",
        "contrast/sequential/ratio",
        "contrast/checkerboard/ratio",
        "grayscale/delta_e/white_measured/mean",
        "grayscale/gamma_fits/white_fixed/gamma",
        "uniformity/white/non_uniformity",
        "uniformity/white/max_pair_delta_uv",
        "grayscale/gamma_fits/white_fixed/max_residual",
        "sweep/*/white",
        "sweep/*/contrast",
        "sweep/brightness/*/greatest",
        "*/grayscale/*/delta_e/white_luminance",
        "gamut/coverage/short/coverage_uv",
        "gamut/coverage/far/area_ratio_xy",
    ],
)
def test_every_kind_that_is_published_takes_part(tallies: dict[str, Tally], kind: str) -> None:
    assert tallies[kind].trials == TRIALS


def test_the_truth_of_a_trial_is_the_scene_s(tmp_path: Path) -> None:
    model = drawn_display(Random(1))
    figures = truth_figures(model, "srgb", tmp_path)
    scene = Scene(Display(model), SensorModel(), noise="none")
    white, black = truth_of(scene, field(grey(255))), truth_of(scene, field(grey(0)))
    assert figures["luminance/white"] == pytest.approx(white[1], rel=1e-9)
    assert figures["contrast/sequential/ratio"] == pytest.approx(white[1] / black[1], rel=1e-6)
    assert figures["luminance/white_chromaticity/x"] == pytest.approx(white[0] / sum(white), rel=1e-9)


def test_steps_and_places_of_one_kind_are_counted_together() -> None:
    assert family("grayscale/code-128/delta_uv") == "grayscale/*/delta_uv"
    assert family("uniformity/white/r2c3/deviation") == "uniformity/white/*/deviation"
    assert family("contrast/sequential/ratio") == "contrast/sequential/ratio"
    assert family("sweep/preset=warm,brightness=20/contrast") == "sweep/*/contrast"
    assert family("sweep/brightness/preset=warm/least") == "sweep/brightness/*/least"


def test_spaces_lie_about_the_display_and_what_covers_them_is_judged_from_one_side() -> None:
    about = {path: 1.01 * value for path, value in BT709.items()}
    texts = drawn_spaces(about, Random(3))
    assert set(texts) == {f"spaces/{name}" for name in APART}
    for name, text in texts.items():
        apart = APART[name.partition("/")[2]]
        assert load_model(Space, text, name).primaries.red == pytest.approx((0.6464, 0.3333), abs=4.0 * apart)
    at_full = f"gamut/coverage/far/coverage_xy{AT_FULL}"
    whole = {"gamut/coverage/far/coverage_xy": Tally(1000, 1000, 0, 1000), at_full: Tally(1000, 1000, 0, 1000)}
    assert out_of_range(whole) == ["gamut/coverage/far/coverage_xy"]
    assert out_of_range({at_full: Tally(1000, 920, 0, 1000)}) == [at_full]


def test_the_table_goes_between_its_marks(tmp_path: Path) -> None:
    document = tmp_path / "doc.md"
    document.write_text("# One\n", encoding="utf-8")
    tally = Tally(2, 1, 1, 2, [0.01, 0.02])
    for _ in range(2):
        write_docs(markdown({"luminance/white": tally}, 2), document)
    text = document.read_text(encoding="utf-8")
    assert text.count(BEGIN) == 1
    assert "| luminance/white | 2 | 2 | 50.0 % | 50.0 % | 0.0 % | 1.5 % |" in text
    assert DOCUMENT.name == "DEVELOPERS.md"
    assert Checked("a", True, False, 0.1).held
