"""Resolution: what is stated, what answers show, the larger of rounding and scatter, and worlds of coarse meters."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from statistics import median
from typing import Any

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.log.results_run import PrecisionSummary, precision_summary
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.meter_model.printed_digits import FOOT_LAMBERT_CD_M2, FOUND, GUESS, Answers, Row
from benchd.analysis.meter_model.resolution import Resolution, resolution_from
from benchd.analysis.noise.reading_noise import NoiseModel, fitted_noise
from benchd.analysis.uncertainty.quantity import Quantity, difference, mean, ratio
from benchd.analysis.uncertainty.sources import NORMAL, OfLight, Source, standard
from benchd.analysis.uncertainty.uncertainty_budget import budget_of
from tests.analysis.logs import Log, target_fields, xyz

HALF = 1.0 / math.sqrt(12.0)
"""Standard deviation of rounding, in steps (JCGM 100, F.2.2.1)."""
XYZ = ("X", "Y", "Z")
Numbers = Sequence[float]


def fixed(step: float, form: tuple[str, ...] = XYZ, colour: float = 1e-4) -> Resolution:
    """The same step for all light."""
    light, chroma = (Row(math.inf, step, "stated"),), (Row(math.inf, colour, "stated"),)
    return Resolution(form, tuple(light if one in XYZ else chroma for one in form))


def step_of(readings: Sequence[Numbers], resolution: Resolution, name: str = "a", noise: Any = None) -> StepData:
    several = np.array(readings, dtype=np.float64)
    covariance = None
    if len(several) > 1:
        c = np.cov(several.T)
        covariance = (c[0, 0], c[1, 1], c[2, 2], c[0, 1], c[0, 2], c[1, 2])
    metrology = Metrology(noise=noise)
    metrology.resolution = resolution
    n, (x, y, z) = len(several), several.mean(axis=0).tolist()
    return StepData(name, "b", {}, (255,) * 3, 8, "centre", (0.5, 0.5), n, n, (x, y, z), covariance, 0, 0, 0, ((1, n),),
                    metrology=metrology)  # fmt: skip


def light(measured: StepData) -> Quantity:
    assert measured.mean is not None
    return Quantity(measured.mean[1], "cd/m2", measured.n, sources=OfLight(measured, "Y"))


def grey(value: float) -> list[float]:
    return [0.95 * value, value, 1.09 * value]


def test_equal_readings_are_no_surer_than_their_last_digit() -> None:
    for n in (2, 3, 30):
        found = light(step_of([grey(0.03)] * n, fixed(0.01)))
        assert found.u == pytest.approx(0.01 * HALF)
        assert found.stated is not None
        assert found.stated.expanded == pytest.approx(NORMAL * 0.01 * HALF)


def test_the_larger_of_scatter_and_rounding_counts_not_both() -> None:
    readings = [grey(100.0), grey(100.0), grey(101.0)]
    s = math.sqrt(1.0 / 3.0)
    assert light(step_of(readings, fixed(1.0))).u == pytest.approx(s / math.sqrt(3.0)), "t(.975, 2) s / sqrt(3) = 1.43"
    assert light(step_of(readings, fixed(5.0))).u == pytest.approx(5.0 * HALF)


def test_scatter_that_hangs_together_counts_as_much_as_it_is_worth() -> None:
    wide, one = fixed(1.0), [[1e-4] * 3] * 3
    for factors, rounded in (((1.0, 1.0), True), ((100.0, 1.0), False)):
        kept, found = wide.larger((95.0, 100.0, 109.0), one, math.inf, 4, "a", factors)
        assert (bool(found), kept == one) == (rounded, not rounded), "1.96 x 100 x 0.01 / 2 is more than half a step"


@pytest.mark.parametrize(("n", "stays"), [(9, True), (10, False), (40, False)])
def test_from_ten_dithered_readings_on_rounding_is_part_of_the_scatter(n: int, stays: bool) -> None:
    values = [100.0 + (k % 3 == 0) + 0.5 * (k % 2) for k in range(n)]
    s = float(np.std(values, ddof=1))
    found = step_of([grey(value) for value in values], fixed(s / 0.65))
    # t(.975, 8) 0.65 / sqrt(9) = 0.500 and t(.975, 9) 0.65 / sqrt(10) = 0.465 steps, against 1.96 / sqrt(12) = 0.566.
    assert any(source.group for source, _ in found.vectors() or []) == stays


def test_two_readings_go_by_the_noise_of_all_steps() -> None:
    model = NoiseModel(((1e-6, 0.0, 0.0),) * 3 + ((0.0, 0.0, 0.0),) * 3, False, 60.0)
    found = light(step_of([grey(1.0), grey(1.01)], fixed(0.01), noise=model))
    assert found.stated is not None
    assert found.stated.expanded == pytest.approx(NORMAL * 0.01 * HALF), "not t(.975, 1) = 12.7 times that of two"


def test_a_step_of_luminance_moves_all_channels_and_one_of_chromaticity_leaves_luminance() -> None:
    found = step_of([xyz(50.0)] * 3, fixed(1.0, ("Y", "x", "y"), 0.001))
    vectors = {source.name: vector for source, vector in found.vectors() or []}
    of_light, of_x = vectors["resolution of Y at a"], vectors["resolution of x at a"]
    assert of_light == pytest.approx([HALF * part for part in xyz(1.0)])
    moved = np.array(xyz(50.0)) + np.array(of_x) * 1e-3
    assert moved[0] / moved.sum() == pytest.approx(0.3127 + 1e-6 * HALF, abs=1e-12)
    assert moved[1] / moved.sum() == pytest.approx(0.3290, abs=1e-12)
    assert of_x[1] == pytest.approx(0.0, abs=1e-12)


def test_a_step_of_u_prime_by_its_definition() -> None:
    light_xyz = xyz(50.0)
    found = step_of([light_xyz] * 3, fixed(1e-9, ("Y", "u", "v"), 0.001))
    moved = np.array(light_xyz) + 1e-3 * np.array(
        {s.name: v for s, v in found.vectors() or []}["resolution of u' at a"]
    )
    below = moved @ (1.0, 15.0, 3.0)
    # CIE 15: u' = 4 X / (X + 15 Y + 3 Z), v' = 9 Y / (...); of D65 0.19783, 0.46832
    assert 4.0 * moved[0] / below == pytest.approx(0.19783 + 1e-6 * HALF, abs=5e-6)
    assert 9.0 * moved[1] / below == pytest.approx(0.46832, abs=5e-6)


def test_through_a_correction_the_step_is_that_of_the_meter() -> None:
    plain = fixed(1.0)._replace(inverse=((0.5, 0.0, 0.0), (0.0, 0.25, 0.0), (0.0, 0.0, 1.0)))
    found = step_of([grey(100.0)] * 3, plain)
    assert light(found).u == pytest.approx(4.0 * HALF), "the matrix multiplies Y by four"


def test_what_reads_the_same_neither_averages_away_nor_vanishes_from_a_difference() -> None:
    cells = [light(step_of([grey(0.03)] * 3, fixed(0.01), f"cell-{k}")) for k in range(8)]
    u = 0.01 * HALF
    assert mean(cells, "cd/m2").u == pytest.approx(u), "all cells may be off by the same"
    assert difference(cells[0], cells[1]).u == pytest.approx(math.sqrt(2.0) * u), "and none like another"
    assert difference(cells[0], cells[0]).u == pytest.approx(0.0, abs=1e-15), "one and the same reading is the same"
    assert ratio(cells[0], cells[1]).u == pytest.approx(math.sqrt(2.0) * u / 0.03)
    other = light(step_of([grey(0.05)] * 3, fixed(0.01), "other"))
    assert mean([cells[0], other], "cd/m2").u == pytest.approx(u / math.sqrt(2.0)), "other values round otherwise"
    budget = budget_of(mean(cells, "cd/m2"))
    assert budget is not None
    assert [(line.source, round(line.share, 9)) for line in budget.lines] == [("resolution of Y, 0.01 cd/m2", 1.0)]


def test_the_contrast_of_a_checkerboard_of_equal_blacks_is_no_surer_than_that_of_one() -> None:
    white = light(step_of([grey(200.0)] * 3, fixed(0.01), "white"))
    cells = [light(step_of([grey(0.03)] * 3, fixed(0.01), f"cell-{k}")) for k in range(8)]
    one, several = ratio(white, cells[0]).interval, ratio(white, mean(cells, "cd/m2")).interval
    assert one is not None
    assert several == pytest.approx(one)
    assert one[1] - 200.0 / 0.03 > 1.1 * (200.0 / 0.03 - one[0]), "skew: the ends of Fieller"


def test_lights_that_spread_over_three_steps_and_more_have_roundings_of_their_own() -> None:
    def cells(*values: float) -> Quantity:
        return mean([light(step_of([grey(one)] * 3, fixed(0.01), f"c{k}")) for k, one in enumerate(values)], "cd/m2")

    u = 0.01 * HALF
    assert cells(0.02, 0.03, 0.03, 0.04).u == pytest.approx(u / 2.0)
    assert cells(0.03, 0.03, 0.04, 0.04).u == pytest.approx(u * math.sqrt(2.0 * 4.0) / 4.0), (
        "two in a row may be one light"
    )
    assert cells(0.02, 0.03, 0.03, 0.03, 0.03, 0.04).u == pytest.approx(u * math.sqrt(16.0 + 2.0) / 6.0), "so may most"
    assert cells(0.02, 0.02, 0.04, 0.04, 0.06).u == pytest.approx(u * math.sqrt(4.0 + 4.0 + 1.0) / 5.0), "no row"


def test_a_group_counts_as_whichever_makes_a_figure_less_sure() -> None:
    a, b = (Source(name, group="g") for name in "ab")
    assert standard({a: 3.0, b: 4.0}) == pytest.approx(7.0)
    assert standard({a: 3.0, b: -4.0}) == pytest.approx(5.0)
    assert standard({a: 3.0, Source("c"): 4.0}) == pytest.approx(5.0)


def rows_of(values: Sequence[str], head: dict[str, Any] | None = None, unit: float = 1.0) -> tuple[Row, ...]:
    answers = Answers(head or {"resolution": {"sent": {"quantities": list(XYZ), "units_cd_m2": [unit]}}})
    for text in values:
        answers.see([unit * float(text)] * 3, f"G {text} {text} {text}")
    return answers.rows(1)


def test_twenty_differing_answers_show_the_step_and_fewer_are_a_guess() -> None:
    twenty = [f"{10 + k * 0.05:.4f}" for k in range(20)]
    (row,) = rows_of(twenty)
    assert (row.step, row.how) == (pytest.approx(0.01), FOUND), "the coarsest power of ten that fits 10.05, 10.10 ..."
    (row,) = rows_of(twenty[:-1] * 3)
    assert (row.step, row.how) == (pytest.approx(1e-4), GUESS), "nineteen, however often"


def test_each_range_has_its_own_step_and_a_dark_one_goes_by_all_that_was_printed() -> None:
    bright = [f"{100 + k:.3f}" for k in range(25)]
    rows = rows_of([*bright, "0.040", "0.030"])
    assert [(round(row.up_to, 3), row.step, row.how) for row in rows] == [
        (0.1, pytest.approx(0.01), FOUND),
        (1000.0, pytest.approx(1.0), FOUND),
    ]
    floating = [f"{1 + k / 100:.2E}" for k in range(5)]
    assert [(row.step, row.how) for row in rows_of(floating)] == [(pytest.approx(0.01), GUESS)]
    assert rows_of(["0.00"])[0].step == pytest.approx(0.01), "a zero has a last digit too"


def test_the_unit_sent_counts_and_numbers_are_known_by_their_value() -> None:
    (row,) = rows_of(["29.2", "29.3"], unit=FOOT_LAMBERT_CD_M2)
    assert row.step == pytest.approx(0.1 * 3.4262591, rel=1e-7)
    answers = Answers({})  # a log of before says nothing of the answers
    line = xyz(100.0, 0.312, 0.329)
    answers.see(line, '{"id":100,"Y":100.0,"x":0.312,"y":0.329,"integration_s":0.5}')
    assert (answers.form, answers.rows(0)[0].step) == (("Y", "x", "y"), pytest.approx(0.1))
    answers.see(line, "100,00;0,3120;0,3290")
    assert answers.rows(0)[0].step == pytest.approx(0.01), "a decimal comma"
    assert answers.rows(1)[0].step == pytest.approx(1e-4)
    nothing = Answers({})
    nothing.see(line, "no figure that fits: 99 98 97")
    assert resolution_from({}, nothing) is None


def test_what_is_stated_outweighs_what_is_seen() -> None:
    rules = {"Y": {"ranges": [[9.99, 0.01], [None, 0.1]]}, "x": {"digits": 4, "least": 1e-5}, "y": None}
    head = {"resolution": {"sent": {"quantities": ["Y", "x", "y"], "units_cd_m2": [2.0]},
                           "stated": {"rules": rules, "unit_cd_m2": 2.0, "by": "bench b"}}}  # fmt: skip
    answers = Answers(head)
    answers.see(xyz(10.0, 0.312, 0.33), "5.00000 0.312 0.33")
    found = resolution_from(head, answers)
    assert found is not None
    steps = {one.quantity: one.row.step for one in found.roundings((9.0, 10.0, 11.0)) if one.row}
    assert steps == {"Y": pytest.approx(0.02), "x": pytest.approx(1e-4), "y": pytest.approx(0.01)}
    assert found.roundings((90.0, 100.0, 110.0))[0].row == Row(math.inf, 0.2, "stated by bench b")


def test_stated_digits_are_no_finer_at_zero_than_what_was_shown() -> None:
    rules = {name: {"digits": 4, "least": None} for name in XYZ}
    head = {"resolution": {"sent": {"quantities": list(XYZ), "units_cd_m2": [1.0]},
                           "stated": {"rules": rules, "unit_cd_m2": 1.0, "by": "bench b"}}}  # fmt: skip
    answers = Answers(head)
    answers.see((190.1, 200.1, 218.1), "190.1 200.1 218.1")
    answers.see((0.0, 0.0, 0.0), "0.000 0.000 0.000")
    found = resolution_from(head, answers)
    assert found is not None
    assert [one.row.step for one in found.roundings((0.0, 0.0, 0.0)) if one.row] == [pytest.approx(0.001)] * 3
    assert [one.row.step for one in found.roundings((190.0, 200.0, 218.0)) if one.row] == [pytest.approx(0.1)] * 3


def test_readings_that_are_all_equal_do_not_drag_the_noise_of_the_others_down() -> None:
    rng = np.random.default_rng(5)
    several = []
    for number in range(60):
        true = np.array(grey(0.05 if number % 2 else 200.0))
        readings = true * (1.0 + 1e-3 * rng.standard_normal((3, 1))) * (1.0 + 3e-4 * rng.standard_normal((3, 3)))
        several.append(step_of(np.round(readings / 0.01) * 0.01, fixed(0.01), f"s{number}"))  # type: ignore[arg-type]
    model = fitted_noise(several, (), fixed(0.01))
    assert model is not None
    pooled = model.covariance((190.0, 200.0, 218.0), None)
    assert pooled is not None
    assert math.sqrt(pooled[1][1]) == pytest.approx(200.0 * math.hypot(1e-3, 3e-4), rel=0.25)


class Coarse(Log):
    """Keeps the meter's answers too."""

    def reading(self, step: str, value: Any, status: str = "ok", *, attempt: int = 1) -> None:
        figures, raw = value
        self.add("reading", {"n": 1, "xyz": figures, "status": status, "raw": raw}, step, attempt)


CODES = [0, 26, 51, 77, 102, 128, 153, 179, 204, 230, 255]
BLOCKS: list[dict[str, Any]] = [
    {"name": "luminance", "kind": "luminance"},
    {"name": "contrast", "kind": "contrast", "kinds": ["sequential"]},
    {"name": "grayscale", "kind": "grayscale", "codes": CODES, "bits": 8, "white": "target"},
]


def answer(true: Any, dice: Any, form: tuple[str, ...], step: float) -> tuple[list[float], str]:
    """A reading with the noise of the simulated meter (`sim.sensor`), rounded as it is sent."""
    gauss = dice.standard_normal(4)
    seen = true + np.sqrt(5e-4**2 + 2e-3**2 * true) * gauss[:3] + 1e-3 * true * gauss[3]
    if form == XYZ:
        words = [f"{round(value / step) * step:.2f}" for value in seen]
        return [float(word) for word in words], " ".join(words)
    words = [f"{round(seen[1] / step) * step:.2f}", *(f"{part:.4f}" for part in seen[:2] / seen.sum())]
    big, x, y = (float(word) for word in words)
    return [big * x / y, big, big * (1.0 - x - y) / y], " ".join(words)


def world(seed: int, form: tuple[str, ...], step: float, *, stated: bool) -> list[tuple[str, Quantity, float]]:
    """Figures of a drawn display of about 0.03 cd/m2 black, read by a meter with steps of 0.01, and their truth."""
    dice = np.random.default_rng(seed)
    white, black, exponent = dice.uniform(80, 400), 0.03 * dice.uniform(0.85, 1.18), dice.uniform(2.1, 2.5)
    said = {name: {"ranges": [[None, step if name in XYZ else 1e-4]]} for name in form}
    sent = {"quantities": list(form), "units_cd_m2": [1.0]}
    head = {"sent": sent, "stated": {"rules": said, "unit_cd_m2": 1.0, "by": "dialect d"} if stated else None}
    target = target_fields({"kind": "power", "exponent": 2.2})
    read, exact = Coarse(BLOCKS, target=target, resolution=head), Log(BLOCKS, target=target)

    def measure(name: str, labels: dict[str, Any], value: float, code: int) -> None:
        true = np.array(xyz(value))
        read.measure(name, labels, [answer(true, dice, form, step) for _ in range(3)], code=code)  # type: ignore[misc]
        exact.measure(name, labels, [true.tolist()] * 2, code=code)

    for block, more in (("luminance", {}), ("contrast", {"kind": "sequential"})):
        measure(f"{block}/white", {**more, "level": "white"}, white, 255)
        measure(f"{block}/black", {**more, "level": "black"}, black, 0)
    for code in CODES:
        measure(f"grayscale/code-{code}", {"code": code}, black + (white - black) * (code / 255) ** exponent, code)
    found, true = analyse(read.end()), analyse(exact.end())
    pick: list[tuple[str, Callable[[Any], Quantity]]] = [
        ("white", lambda one: one.of("luminance")[0].white),
        ("black", lambda one: one.of("luminance")[0].black),
        ("contrast", lambda one: one.of("contrast")[0].sequential.ratio),
        ("gamma", lambda one: one.of("grayscale")[0].gamma_fits[0].gamma),
        ("delta E", lambda one: one.of("grayscale")[0].delta_e[0].mean),
    ]
    return [(name, of(found), of(true).value or 0.0) for name, of in pick]


@pytest.mark.parametrize(("form", "stated"), [(XYZ, True), (("Y", "x", "y"), False)])
def test_figures_of_a_coarse_meter_hold_the_truth(form: tuple[str, ...], stated: bool) -> None:
    trials = 80
    held: dict[str, int] = {}
    widths: list[float] = []
    for seed in range(trials):
        for name, figure, true in world(1000 + seed, form, 0.01, stated=stated):
            if figure.bound is not None:
                inside = (true <= (figure.value or 0.0)) == (figure.bound == "below")
            else:
                ends = figure.interval
                assert ends is not None, name
                inside = ends[0] <= true <= ends[1]
                assert ends[1] > ends[0], "equal readings are no certainty"
                if name == "black":
                    widths.append((ends[1] - ends[0]) / 2.0)
            held[name] = held.get(name, 0) + inside
    # 93 %, less two standard deviations of what 80 displays show.
    fewest = trials * 0.93 - 2.0 * math.sqrt(trials * 0.93 * 0.07)
    assert {name: count for name, count in held.items() if count < fewest} == {}
    # Whoever knew the meter would say: a uniform error of half a step holds 95 % within 0.475 steps.
    assert median(widths) <= 1.6 * 0.475 * 0.01


def test_a_contrast_of_equal_dark_readings_is_not_known_to_a_hundredth() -> None:
    """The case of black 0.03 in steps of 0.01: 6670:1 with an uncertainty of zero."""
    log = Coarse(BLOCKS[:2], target=target_fields({"kind": "srgb"}))
    for block, more in (("luminance", {}), ("contrast", {"kind": "sequential"})):
        log.measure(f"{block}/white", {**more, "level": "white"}, [(grey(200.0), "190.00 200.00 218.00")] * 3)  # type: ignore[list-item]
        dark = ([0.0285, 0.03, 0.0327], "0.0285 0.03 0.0327")
        log.measure(f"{block}/black", {**more, "level": "black"}, [dark] * 3, code=0)  # type: ignore[list-item]
    results = analyse(log.end())
    assert results.of("contrast")[0].sequential is not None
    found = results.of("contrast")[0].sequential.ratio.interval
    assert found is not None
    assert found[0] < 6000.0
    assert found[1] > 7500.0
    rows = results.meter["resolution"]
    assert isinstance(rows, list)
    assert {row["from"] for row in rows} == {GUESS}
    assert "a guess" in str(budget_of(results.of("luminance")[0].black))


def test_a_repeatability_finer_than_the_meter_s_resolution_is_not_reached() -> None:
    body = {"asked": 0.005, "met": True, "reached": 0.001}
    fine, coarse = (step_of([grey(0.31)] * 5, fixed(step)) for step in (0.001, 0.034))
    assert precision_summary({"a": body}, {"a": fine}) == PrecisionSummary(1, ())
    found = precision_summary({"a": body}, {"a": coarse})
    assert found is not None
    (short,) = found.short
    assert (short.step, short.asked_percent, short.why) == ("a", 0.5, "as far as the meter's resolution goes")
    assert short.reached_percent == pytest.approx(100.0 * 0.034 * HALF / 0.31)


def test_places_that_read_the_same_are_not_known_to_be_equally_bright() -> None:
    grid = {
        "name": "uniformity",
        "kind": "uniformity",
        "columns": 3,
        "rows": 3,
        "levels": [{"level": "white", "code": 255, "percent": 100}],
    }
    log = Coarse([grid], target=target_fields({"kind": "srgb"}))
    for row in (1, 2, 3):
        for column in (1, 2, 3):
            labels = {"level": "white", "row": row, "column": column}
            at = ((2 * column - 1) / 6.0, (2 * row - 1) / 6.0)
            log.measure(f"uniformity/white-r{row}c{column}", labels, [(grey(100.0), "95 100 109")] * 3, at=at)  # type: ignore[list-item]
    (found,) = analyse(log.end()).of("uniformity")[0].levels
    assert found.non_uniformity.value == 0.0
    ends = found.non_uniformity.interval
    assert ends is not None
    assert 0.5 < ends[1] < 2.0, "two places may differ by a step, which is a hundredth"
