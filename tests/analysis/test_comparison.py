"""Displays side by side: shared errors cancel, spread counts, Holm judges, bounds are no values."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity, ratio
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.analysis.verdicts.comparison import Comparison, ComparisonRow, Sample, compare
from benchd.analysis.verdicts.equivalence import Margin
from benchd.analysis.verdicts.panel import distance, same_panel
from benchd.report.data.log_reference import LogReference
from benchd.report.data.verdicts import comparison_json
from tests.report import made

SCALE = 0.01
"""Relative standard uncertainty of the invented meter's scale: the same in both logs."""


def light(value: float, noise: float = 0.1, meter: str = "0007", unit: str = "cd/m2") -> Quantity:
    sources = Fixed(((Source(f"scale of {meter}", shared=True), SCALE * value), (Source("noise"), noise)))
    return Quantity(value, unit, 3, noise, sources=sources)


def log(white: Quantity, *, sample: str = "plover-27/1", **changes: object) -> Results:
    own = replace(made.luminance(), white=white)
    changes = {"technology": "white-led", **changes}
    return made.results(
        sample=sample, luminance=(own,), contrast=(), grayscale=(), uniformity=(), patches=(), **changes
    )


def sample(label: str, *logs: Results) -> Sample:
    return Sample(label, logs, tuple(f"{label}-{number}" for number in range(len(logs))))


def white(comparison: Comparison) -> ComparisonRow:
    return next(row for row in comparison.rows if row.headline.name == "white luminance")


def compared(a: Quantity, b: Quantity, **margins: Margin) -> ComparisonRow:
    stated = {name.replace("_", " "): margin for name, margin in margins.items()}
    return white(compare([sample("a", log(a)), sample("b", log(b))], stated))


def test_what_one_meter_does_wrong_in_both_cancels() -> None:
    """By hand: u(a) = 4.00 (1 % of 400) but of the difference only 1 % of 4 and the noises: sqrt(.04² + 2 * .1²)."""
    row = compared(light(400.0), light(404.0))
    (_, one) = row.differences
    assert one is not None
    assert one.difference is not None
    assert row.sides[0].quantity is not None
    assert row.sides[0].quantity.u == pytest.approx((4.0**2 + 0.1**2) ** 0.5)
    assert one.difference.value == pytest.approx(4.0)
    assert one.difference.u == pytest.approx((0.04**2 + 2 * 0.1**2) ** 0.5)
    assert one.answer == "different and equivalent", "1 % is real, and within the 2 % of common practice"
    assert one.relative is not None
    assert one.relative.value == pytest.approx(1.0)


def test_two_meters_do_not_cancel() -> None:
    a, b = light(400.0), light(404.0, meter="0008")
    first, second = log(a), log(b, meter={"model": "LAPWING", "serial_number": "0008"})
    comparison = compare([sample("a", first), sample("b", second)])
    (_, one) = white(comparison).differences
    assert one is not None
    assert one.answer == "inconclusive"
    assert not comparison.same_meter
    assert comparison.conditions["meter"] == ("LAPWING 0007", "LAPWING 0008")


def test_meters_that_nobody_named_are_not_one_meter() -> None:
    """Two imports without a word on the meter: their 6 % may be all of the two meters' own making."""
    unnamed = {"model": "not named", "serial_number": "", "driver": "imported"}
    logs = [log(light(value), meter=unnamed) for value in (400.0, 424.0)]
    comparison = compare([sample("a", logs[0]), sample("b", logs[1])])
    (_, one) = white(comparison).differences
    assert one is not None
    assert not comparison.same_meter
    assert one.answer == "inconclusive"
    assert "nothing is stated of one of the meters" in one.why
    named = [replace(one, meter={**unnamed, "model": "LAPWING 0007"}) for one in logs]
    comparison = compare([sample("a", named[0]), sample("b", named[1])])
    assert comparison.same_meter
    (_, one) = white(comparison).differences
    assert one is not None
    assert one.answer == "different"


def test_readings_without_any_scatter_are_no_proof_and_a_log_equals_itself() -> None:
    a, b = (Quantity(value, "cd/m2", 2, 0.0, sources=Fixed()) for value in (340.0, 320.0))
    (_, one) = compared(a, b).differences
    assert one is not None
    assert one.answer == "inconclusive"
    own = sample("a", log(light(400.0), meter={}))
    (_, one) = white(compare([own, own])).differences
    assert one is not None
    assert one.answer == "equivalent"


def test_models_of_few_and_many_units_are_called_different_by_chance_in_5_percent_at_most() -> None:
    """Welch's test alone would be wrong in 9 to 12 % of such pairs (2 units that spread, 10 that spread less)."""
    rng = random.Random(3)
    wrong, trials = 0, 300
    for _ in range(trials):
        units = [
            [log(light(rng.gauss(400.0, spread)), sample=f"plover-27/{number}") for number in range(n)]
            for n, spread in ((2, 10.0), (10, 3.0))
        ]
        (_, one) = white(compare([sample("a", *units[0]), sample("b", *units[1])])).differences
        assert one is not None
        wrong += one.answer.startswith("different")
    assert wrong <= 0.05 * trials + 2.0 * (0.05 * 0.95 * trials) ** 0.5


def test_noise_of_two_logs_is_never_shared_though_it_has_one_name() -> None:
    row = compared(light(400.0, noise=1.0), light(400.0, noise=1.0))
    (_, one) = row.differences
    assert one is not None
    assert one.difference is not None
    assert one.difference.u == pytest.approx(2.0**0.5)


@pytest.mark.parametrize("apart", [1.8, 1.95, 1.99, 2.0, 2.01, 2.03, 2.1, 19.9, 21.0])
def test_a_against_b_says_what_b_against_a_says(apart: float) -> None:
    """Close to a margin of 2 % it mattered which of the two is the hundred per cent."""
    a, b = light(400.0, 0.02), light(400.0 * (1.0 + apart / 100.0), 0.02)
    one, other = compared(a, b).differences[1], compared(b, a).differences[1]
    assert one is not None
    assert other is not None
    assert one.answer == other.answer
    assert one.verdict is not None
    assert one.verdict.margin == pytest.approx(0.02 * 400.0 * (1.0 + apart / 200.0))


def test_the_margin_is_the_operators_or_common_practice() -> None:
    row = compared(light(400.0), light(440.0), white_luminance=Margin(20.0, percent=True))
    (_, one) = row.differences
    assert row.margin_stated
    assert one is not None
    assert one.answer == "different and equivalent"
    row = compared(light(400.0), light(440.0))
    (_, one) = row.differences
    assert not row.margin_stated
    assert one is not None
    assert one.answer == "different"


def test_an_unknown_uncertainty_tells_nothing() -> None:
    row = compared(replace_sources(light(400.0)), light(500.0))
    (_, one) = row.differences
    assert one is not None
    assert one.answer == "inconclusive"
    assert "not known" in one.why


def replace_sources(quantity: Quantity) -> Quantity:
    return quantity._replace(sources=None)


@pytest.mark.parametrize(
    ("value", "bound", "answer"),
    [
        (82_000.0, "above", "different"),
        (300.0, "above", "inconclusive"),
        (500.0, "below", "inconclusive"),
        (100.0, "below", "different"),
    ],
)
def test_a_bound_differs_only_where_it_excludes_the_other(value: float, bound: str, answer: str) -> None:
    only = Quantity(value, "cd/m2", 3, None, "under", bound, "a bound")  # type: ignore[arg-type]
    (_, one) = compared(light(400.0), only).differences
    assert one is not None
    assert one.answer == answer


def test_units_of_a_model_bring_their_spread() -> None:
    """Three units: mean 402, s = 2 by hand; u of the mean 2 / sqrt(3) beside what is shared, two degrees of freedom."""
    units = [log(light(value), sample=f"plover-27/{number}") for number, value in enumerate((400.0, 402.0, 404.0), 1)]
    other = [log(light(value), sample=f"curlew-32/{number}") for number, value in enumerate((430.0, 432.0, 434.0), 1)]
    comparison = compare([sample("plover", *units), sample("curlew", *other)])
    row = white(comparison)
    first = row.sides[0]
    assert (first.n, first.spread) == (3, pytest.approx(2.0))
    assert first.quantity is not None
    assert first.quantity.value == pytest.approx(402.0)
    assert first.quantity.u == pytest.approx(((SCALE * 402.0) ** 2 + 4.0 / 3.0) ** 0.5)
    (_, one) = row.differences
    assert one is not None
    assert one.difference is not None
    assert one.difference.u == pytest.approx((0.3**2 + 2 * 4.0 / 3.0) ** 0.5)
    assert one.answer == "different"
    assert comparison.labels == ("plover", "curlew")


def test_a_sample_of_many_is_units_or_runs() -> None:
    assert sample("p", log(light(1.0)), log(light(1.0), sample="plover-27/2")).replicate == "unit"
    assert sample("p", log(light(1.0)), log(light(1.0))).replicate == "run"


def test_many_differences_are_judged_together() -> None:
    """After Holm: of twenty equal pairs hardly one is called different, whatever each p."""
    comparison = compare([sample("a", made.results()), sample("b", made.results())])
    verdicts = [one.verdict for row in comparison.rows for one in row.differences if one and one.verdict]
    assert comparison.tested == len(verdicts)
    assert all(verdict.tested == comparison.tested for verdict in verdicts)
    assert not any(verdict.different for verdict in verdicts)


def test_the_first_has_no_difference_and_a_figure_of_one_alone_no_row() -> None:
    only = log(light(400.0))
    comparison = compare([sample("a", made.results()), sample("b", only)])
    assert {row.headline.name for row in comparison.rows} <= {
        "white luminance", "black luminance", "white u'", "white v'", "white CCT"
    }  # fmt: skip
    assert all(row.differences[0] is None for row in comparison.rows)


def test_distance_of_two_chromaticities() -> None:
    """By hand: a 3-4-5 triangle; u to first order along the line between them."""
    a = tuple(Quantity(v, "1", 3, sources=Fixed(((Source(f"a{v}"), 0.0001),))) for v in (0.203, 0.474))
    b = tuple(Quantity(v, "1", 3, sources=Fixed(((Source(f"b{v}"), 0.0001),))) for v in (0.200, 0.470))
    apart = distance(a, b)  # type: ignore[arg-type]
    assert apart.value == pytest.approx(0.005)
    assert apart.u == pytest.approx(0.0001 * 2**0.5)


def findings(first: Results, second: Results) -> dict[str, str]:
    return {one.feature: one.finding for one in same_panel(first, second).evidence}


def known(results: Results) -> Results:
    """The made results with an uncertainty for each figure that evidence rests on."""

    def give(quantity: Quantity, share: float = 0.001) -> Quantity:
        amount = share * abs(quantity.value or 0.0)
        return quantity._replace(sources=Fixed(((Source(f"noise {quantity.value}"), amount),)))

    contrast = results.of("contrast")[0]
    assert contrast.sequential is not None
    own = replace(contrast, sequential=replace(contrast.sequential, ratio=give(contrast.sequential.ratio)))
    light = results.of("luminance")[0]
    colour = replace(
        light.white_chromaticity,
        u_prime=give(light.white_chromaticity.u_prime),
        v_prime=give(light.white_chromaticity.v_prime),
    )
    return made.changed(
        results, contrast=(own,), luminance=(replace(light, white=give(light.white), white_chromaticity=colour),)
    )


def test_evidence_for_and_against_the_same_panel() -> None:
    one = known(made.results())
    same = findings(one, one)
    assert same["contrast"] == "for"
    assert same["resolution"] == "inconclusive", "many panels share their number of pixels"
    assert same["pattern of uniformity"] == "for"
    other = replace(one, screen={**one.screen, "width": 3840, "height": 2160})
    question = same_panel(one, other)
    assert "against the same panel: resolution" in question.answer
    assert question.evidence[0].weight == "strong", "the weightiest first"
    assert any("primaries" in text for text in question.lacking)


def test_evidence_without_uncertainty_tells_nothing() -> None:
    found = findings(made.results(), made.results())
    assert found["contrast"] == "inconclusive"


def contrasts(values: Sequence[float]) -> list[Results]:
    made_ones = []
    for value in values:
        results = known(made.results())
        block = results.of("contrast")[0]
        assert block.sequential is not None
        ratio = Quantity(value, "1", 3, sources=Fixed(((Source("noise"), 0.001 * value),)))
        made_ones.append(
            made.changed(results, contrast=(replace(block, sequential=replace(block.sequential, ratio=ratio)),))
        )
    return made_ones


def test_a_contrast_far_apart_is_evidence_against() -> None:
    first, second = contrasts([1100.0, 1400.0])
    assert findings(first, second)["contrast"] == "against"
    assert "against" in same_panel(first, second).answer


def test_a_difference_of_luminances_may_be_below_zero_in_data_too() -> None:
    """Light is never negative, a difference of lights may be: 0.0005 ± 0.0028 was cut at 0."""
    a, b = (Quantity(v, "cd/m2", 3, 0.001, sources=Fixed(((Source("noise"), 0.001),))) for v in (0.0400, 0.0405))
    comparison = compare([sample("a", log(a)), sample("b", log(b))])
    rows = comparison_json(comparison, [[LogReference(name, "0" * 64)] for name in "ab"], [])["rows"]
    found = next(row for row in rows if row["figure"] == "white luminance")["differences"][1]["difference"]
    assert found["low"] == pytest.approx(0.0005 - 1.96 * 0.001 * 2.0**0.5, rel=1e-3)
    assert found["high"] == pytest.approx(0.0005 + 1.96 * 0.001 * 2.0**0.5, rel=1e-3)


def test_evidence_of_a_skew_interval_has_its_two_ends() -> None:
    """Contrast over a black that is known to 20 %: Fieller's ends, as `uncertainty.quotient` has them."""

    def contrast(black: float) -> Results:
        lights = [
            Quantity(value, "cd/m2", 3, 0.0, sources=Fixed(((Source("noise of one"), u),)))
            for value, u in ((300.0, 0.1), (black, 0.1 * black))
        ]
        own = made.contrast()
        assert own.sequential is not None
        sequential = replace(own.sequential, ratio=ratio(*lights))
        return made.changed(log(light(300.0)), contrast=(replace(own, sequential=sequential, checkerboard=None),))

    question = same_panel(contrast(0.3), contrast(0.33))
    words = next(one.words for one in question.evidence if one.feature == "contrast")
    assert re.match(r"-9\.\d \(-\d+\.\d to \+\d+\.\d\) %, margin 15 %", words), words
