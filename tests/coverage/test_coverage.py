"""A small seeded study of the one in `tests.coverage`: enough to see an interval that is badly wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

from benchd.distributions import t_quantile
from benchd.patch.model import field, grey
from benchd.run.log.journal import decode, encode
from sim.displays import Display
from sim.scene import Scene
from sim.sensor import SensorModel
from sim.truth import truth_of
from tests.coverage.__main__ import DOCUMENT, main, markdown
from tests.coverage.bench import HeavyTails
from tests.coverage.drawn import drawn_display
from tests.coverage.gamuts import APART, AT_FULL, drawn_spaces
from tests.coverage.study import Tally, family, lines, short, study, tallies
from tests.coverage.table import row_of, table
from tests.coverage.trial import Bench, Checked, trial
from tests.coverage.worlds import BY_NAME, WORLDS

TRIALS = 12
MIN_OF_ONE_KIND = 8
"""Of twelve: with 95 % each, fewer come about once in 35 000 (binomial)."""
GAUSSIAN = BY_NAME["gaussian"]


@pytest.fixture(scope="module")
def gaussian(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Tally]:
    file = tmp_path_factory.mktemp("coverage") / "gaussian.jsonl"
    study(GAUSSIAN, TRIALS, file)
    return tallies(lines(file))


def test_no_kind_of_figure_misses_often(gaussian: dict[str, Tally]) -> None:
    single = {name: tally for name, tally in gaussian.items() if tally.figures == tally.displays == TRIALS}
    assert len(single) > 30
    assert {name: tally.held for name, tally in single.items() if tally.held < MIN_OF_ONE_KIND} == {}


def test_all_together_hold_the_truth_about_as_often_as_they_say(gaussian: dict[str, Tally]) -> None:
    figures = sum(tally.figures for tally in gaussian.values())
    held = sum(tally.held for tally in gaussian.values())
    # Figures of one trial share one meter's errors, so that twelve trials scatter by some per cent.
    assert 0.88 <= held / figures <= 0.995
    assert not any(tally.without for tally in gaussian.values())


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
        "sweep/*/white luminance",
        "sweep/*/contrast",
        "sweep/brightness/*/maximum",
        "*/grayscale/*/delta_e/white_luminance",
        "gamut/coverage/short/coverage_uv",
        "gamut/coverage/far/area_ratio_xy",
    ],
)
def test_every_kind_that_is_published_takes_part(gaussian: dict[str, Tally], kind: str) -> None:
    assert gaussian[kind].displays == TRIALS
    assert row_of(kind) != "others"


@pytest.mark.parametrize("world", [world for world in WORLDS if world is not GAUSSIAN], ids=lambda world: world.name)
def test_every_world_has_its_figures(world: object) -> None:
    assert not isinstance(world, str)
    found = list(trial(world, 3))  # type: ignore[arg-type]
    kinds = {family(one.path) for one in found}
    assert len(found) > 15
    if world is not BY_NAME["two-technologies"]:
        assert {"luminance/white", "contrast/sequential/ratio", "grayscale/gamma_fits/white_fixed/gamma"} <= kinds
    assert sum(one.held for one in found) > len(found) / 3


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        (
            "resolution",
            {
                "luminance/black",
                "contrast/sequential/ratio",
                "contrast/checkerboard/*/ratio",
                "sweep/*/black luminance",
            },
        ),
        ("two-technologies", {"difference/white u'", "difference/white v'", "difference/white CCT"}),
    ],
)
def test_what_held_a_third_of_its_truths_holds_them(name: str, kinds: set[str]) -> None:
    found = [one.held for seed in range(4) for one in trial(BY_NAME[name], seed) if family(one.path) in kinds]
    assert len(found) >= 12
    assert sum(found) >= 0.75 * len(found)


def test_the_truth_of_a_trial_is_the_scene_s() -> None:
    case = replace(GAUSSIAN.draw(Random(1)), target="srgb")
    _, true = Bench(case, 1).run(GAUSSIAN.plan(case))
    scene = Scene(Display(case.model), SensorModel(), noise="none")
    white, black = truth_of(scene, field(grey(255))), truth_of(scene, field(grey(0)))
    assert true.of("luminance")[0].white.value == pytest.approx(white[1], rel=1e-9)
    assert true.of("contrast")[0].sequential is not None
    assert true.of("contrast")[0].sequential.ratio.value == pytest.approx(white[1] / black[1], rel=1e-6)
    assert true.of("luminance")[0].white_chromaticity.x.value == pytest.approx(white[0] / sum(white), rel=1e-9)


def test_records_in_memory_are_those_of_a_file() -> None:
    case = GAUSSIAN.draw(Random(2))
    records = Bench(case, 2).records(GAUSSIAN.plan(case))
    again = [decode(encode(record)) for record in records]
    assert again == list(records)


def test_heavy_tails_are_student_s_with_two_degrees_of_freedom() -> None:
    noise = HeavyTails(1)
    drawn = sorted(one for number in range(5000) for one in noise.draw("", (0.0, 0.0), number))
    assert drawn[len(drawn) * 3 // 4] == pytest.approx(0.6745, rel=0.03)  # as the normal distribution's
    ratio = t_quantile(0.975, 2) / t_quantile(0.75, 2)
    assert drawn[int(len(drawn) * 0.975)] / drawn[len(drawn) * 3 // 4] == pytest.approx(ratio, rel=0.06)


@pytest.mark.parametrize("times", [0.8, 1.0, 2.0])
def test_the_width_is_that_over_intervals_of_the_true_model(times: float) -> None:
    dice, tally = Random(5), Tally()
    for _ in range(20_000):
        readings = [dice.gauss(0.0, 1.0) for _ in range(3)]
        mean = sum(readings) / 3.0
        s = (sum((one - mean) ** 2 for one in readings) / 2.0) ** 0.5
        half = times * t_quantile(0.975, 2) * s / 3.0**0.5
        tally.take([abs(mean) <= half, 1, 0, 0, 0, [abs(mean) / half]])
    assert tally.width == pytest.approx(times, rel=0.05)
    wrong = short("luminance/white", tally, GAUSSIAN)
    assert wrong == {0.8: f"held {100 * tally.share:.1f} %", 1.0: ""}.get(times, f"{tally.width:.2f} times as wide")


def test_a_value_without_an_interval_holds_nothing_and_a_bound_has_no_width() -> None:
    tally = Tally()
    for _ in range(600):
        tally.take([0, 0, 1, 1, 1, []])  # held by a bound, and a value that has nothing
    assert (tally.share, tally.width, tally.bounds, tally.without) == (0.5, None, 600, 600)
    rows = table([(GAUSSIAN, {"luminance/black": tally})])
    assert ["black luminance", "50.0; 50 % bounds; 50 % without \\*"] in rows


def test_steps_and_places_of_one_kind_are_counted_together() -> None:
    assert family("grayscale/code-128/delta_uv") == "grayscale/*/delta_uv"
    assert family("uniformity/white/r2c3/deviation") == "uniformity/white/*/deviation"
    assert family("contrast/sequential/ratio") == "contrast/sequential/ratio"
    assert family("contrast/checkerboard/inverse/ratio") == "contrast/checkerboard/*/ratio"
    assert family("sweep/preset=warm,brightness=20/contrast") == "sweep/*/contrast"
    assert family("sweep/brightness/preset=warm/least") == "sweep/brightness/*/least"


def test_spaces_lie_about_the_display_and_what_covers_them_is_judged_from_one_side() -> None:
    own = {"red": (0.6464, 0.3333), "green": (0.303, 0.606), "blue": (0.1515, 0.0606)}
    spaces = drawn_spaces(own, Random(3))
    assert set(spaces) == set(APART)
    for name, corners in spaces.items():
        assert corners["red"] == pytest.approx(own["red"], abs=4.0 * APART[name])
    whole = Tally(1000, 1000, 1000, off=[0.5] * 1000)
    assert short(f"gamut/coverage/far/coverage_xy{AT_FULL}", whole, GAUSSIAN) == ""
    assert short("gamut/coverage/far/coverage_xy", whole, GAUSSIAN) == "2.00 times as wide"


def test_a_study_goes_on_where_it_was_stopped(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "small-plan.jsonl"
    world = BY_NAME["small-plan"]
    study(world, 2, file)
    whole = file.read_bytes()
    file.write_bytes(whole[:-20])  # killed while it wrote the second
    study(world, 2, file)
    assert file.read_bytes() == whole
    main(["--kept", str(tmp_path), "--world", "small-plan", "--trials", "0", "--kinds"])
    printed = capsys.readouterr().out
    assert "| displays | 2 |" in printed
    assert "| luminance/white | 2 | 2 |" in printed


def test_the_document_beside_this_is_what_the_program_writes() -> None:
    tally = Tally(2, 1, 2, off=[0.5, 1.25])
    text = markdown([(GAUSSIAN, {"luminance/white": tally})])
    assert "| white luminance | 50.0 / 0.80 \\* |" in text
    about = markdown([(world, {}) for world in WORLDS]).partition("| held")[0]
    assert DOCUMENT.read_text(encoding="utf-8").startswith(about)
    assert Checked("a", "value", True, 0.1).held
    assert drawn_display(Random(1)).black_cd_m2 > 0.0
