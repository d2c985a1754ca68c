"""Claims with guard bands: what is met, what is not, and what is inconclusive."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.analysis.results import Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Contributions, Fixed, Source, Stated
from benchd.analysis.verdicts.claim_verdicts import OUTCOMES, Claim, check_claims
from benchd.measurements.gamut.results import Gamut, SpaceCoverage
from tests.report import made


def quantity(value: float, u: float | None, unit: str = "cd/m2") -> Quantity:
    sources = None if u is None else Fixed(((Source("readings"), u),))
    return Quantity(value, unit, 3, u, sources=sources)


def log(white: Quantity, sample: str = "plover-27/1") -> Results:
    return made.results(
        sample=sample, luminance=(replace(made.luminance(), white=white),), uncertainty={"calibration_percent": 1.0}
    )


def claim(low: float | None = None, high: float | None = None, figure: str = "white luminance") -> Claim:
    return Claim(figure, low, high, "cd/m2", "as written", "the maker's words", "brightness 100")


@pytest.mark.parametrize(
    ("value", "outcome"),
    # u = 1, so U = 1.96: at least 350 is met from 351.96 and missed below 348.04 (JCGM 106, guard band w = U).
    [
        (351.97, "met"),
        (351.95, "inconclusive"),
        (350.0, "inconclusive"),
        (348.05, "inconclusive"),
        (348.0, "not met"),
    ],
)
def test_the_guard_band_is_one_expanded_uncertainty(value: float, outcome: str) -> None:
    (checked,) = check_claims([claim(low=350.0)], [log(quantity(value, 1.0))])
    assert checked.outcome == outcome
    assert checked.findings[0].guard_band == (pytest.approx(1.959964), pytest.approx(1.959964))
    assert checked.claim.conditions == "brightness 100", "the conditions stay with the claim"


def test_the_probability_is_that_of_the_normal_distribution() -> None:
    """JCGM 106:2012, 7.3 (from memory): the probability is the normal integral up to the limit; at one u .8413."""
    (checked,) = check_claims([claim(low=350.0)], [log(quantity(351.0, 1.0))])
    assert checked.findings[0].probability == pytest.approx(0.841345, abs=1e-5)
    (checked,) = check_claims([claim(low=349.0, high=351.0)], [log(quantity(350.0, 1.0))])
    assert checked.findings[0].probability == pytest.approx(0.682689, abs=1e-5)


def test_where_an_interval_is_not_symmetrical_each_side_has_its_own_probability() -> None:
    """The two ends are the points of 2.5 %; half way to one of them it is that of 0.98 standard deviations."""

    class Skew:
        def contributions(self) -> Contributions:
            return {Source("noise"): 1.0}

        def stated(self, value: float) -> Stated:
            return Stated(3.0, None, math.inf, value - 1.0, value + 5.0)

    skew = quantity(350.0, 1.0)._replace(sources=Skew())
    for low, probability in ((349.0, 0.975), (355.0, 0.025), (349.5, 0.836457), (352.5, 0.163543), (350.0, 0.5)):
        (checked,) = check_claims([claim(low=low)], [log(skew)])
        assert checked.findings[0].probability == pytest.approx(probability, abs=1e-5)
        assert checked.findings[0].guard_band == (pytest.approx(1.0), pytest.approx(5.0)), "to the ends of the interval"


def test_without_an_uncertainty_nothing_is_said_for_sure() -> None:
    (checked,) = check_claims([claim(low=350.0)], [log(quantity(500.0, None))])
    assert checked.outcome == "inconclusive"
    assert "uncertainty is not known" in checked.findings[0].why


@pytest.mark.parametrize(
    ("bound", "value", "low", "high", "outcome"),
    [
        ("above", 82_000.0, 1000.0, None, "met"),
        ("above", 500.0, 1000.0, None, "inconclusive"),
        ("above", 500.0, None, 400.0, "not met"),
        ("below", 0.005, None, 0.01, "met"),
        ("below", 0.005, 0.01, None, "not met"),
        ("below", 0.02, None, 0.01, "inconclusive"),
    ],
)
def test_a_bound_decides_where_all_it_allows_agrees(
    bound: str, value: float, low: float | None, high: float | None, outcome: str
) -> None:
    white = Quantity(value, "cd/m2", 3, None, "under", bound, "a bound")  # type: ignore[arg-type]
    (checked,) = check_claims([claim(low, high)], [log(white)])
    assert checked.outcome == outcome


def test_what_no_log_has_is_not_measured() -> None:
    (checked,) = check_claims([claim(low=90.0, figure="coverage of P3-D65")], [log(quantity(350.0, 1.0))])
    assert checked.outcome == "not measured"
    assert checked.findings[0].headline is None


def test_one_unit_that_fails_is_enough() -> None:
    logs = [log(quantity(360.0, 1.0)), log(quantity(340.0, 1.0), "plover-27/2")]
    (checked,) = check_claims([claim(low=350.0)], logs)
    assert checked.outcome == "not met"
    assert [one.outcome for one in checked.findings] == ["met", "not met"]
    assert [one.sample for one in checked.findings] == ["plover-27/1", "plover-27/2"]


def test_without_a_word_on_the_meter_scatter_is_no_guard_band() -> None:
    """300 readings that agree say nothing of a meter that is 10 % off."""
    (checked,) = check_claims([claim(low=350.0)], [replace(log(quantity(360.0, 0.01)), uncertainty=None)])
    assert checked.outcome == "inconclusive"
    assert checked.findings[0].probability is None
    assert "nothing is stated of the meter" in checked.findings[0].why


def test_a_bound_of_scatter_alone_decides_nothing_and_one_of_the_meters_range_does() -> None:
    """Nothing is stated, and no range: the upper end of black is how its readings agree, whatever the meter's zero."""
    bound = Quantity(500_000.0, "1", 5, None, "under", "above", "a bound")
    sequential = made.contrast().sequential
    assert sequential is not None
    line = replace(claim(low=100_000.0, figure="contrast"), unit="1")
    for floor, outcome in ((None, "inconclusive"), (0.005, "met")):
        block = replace(made.contrast(), sequential=replace(sequential, ratio=bound))
        meter = {**made.results().meter, "floor_cd_m2": floor}
        (checked,) = check_claims([line], [made.results(contrast=(block,), uncertainty=None, meter=meter)])
        assert checked.outcome == outcome


def covered(percent: float, sample: str) -> Results:
    of_xy, of_uv = quantity(percent, 0.1, "%"), quantity(percent + 0.1, 0.1, "%")
    space = SpaceCoverage("srgb", "sRGB / BT.709", of_xy, of_uv, of_xy, of_uv, of_xy)
    block = Gamut("gamut", "INVENTED", "field", (), (space,), (), "", (), "", ())
    return made.changed(log(quantity(360.0, 1.0), sample), gamut=(block,))


def test_a_space_is_known_by_its_makers_name_and_the_diagram_may_be_left_open() -> None:
    line = replace(claim(low=95.0, figure="coverage of sRGB"), unit="%")
    (checked,) = check_claims([line], [covered(97.0, "plover-27/1")])
    assert checked.outcome == "met"
    assert [one.headline and one.headline.name for one in checked.findings] == [
        "coverage of sRGB / BT.709 in u'v'",
        "coverage of sRGB / BT.709 in xy",
    ]
    (checked,) = check_claims([replace(line, figure="coverage of sRGB in xy")], [covered(97.0, "plover-27/1")])
    assert len(checked.findings) == 1
    (checked,) = check_claims([replace(line, low=97.05)], [covered(97.0, "plover-27/1")])
    assert checked.outcome == "inconclusive"


def test_a_unit_that_fails_a_claim_of_coverage_is_not_hidden_by_one_that_keeps_it() -> None:
    line = replace(claim(low=95.0, figure="coverage of sRGB"), unit="%")
    (checked,) = check_claims([line], [covered(97.0, "plover-27/1"), covered(90.0, "plover-27/2")])
    assert checked.outcome == "not met"


def test_another_unit_is_not_compared() -> None:
    (checked,) = check_claims([replace(claim(low=350.0), unit="K")], [log(quantity(400.0, 1.0))])
    assert checked.outcome == "inconclusive"


@given(value=st.floats(1.0, 1000.0), u=st.floats(0.001, 50.0), limit=st.floats(1.0, 1000.0), more=st.floats(1.001, 3.0))
def test_more_light_never_makes_a_claim_less_kept_and_more_doubt_never_decides(
    value: float, u: float, limit: float, more: float
) -> None:
    def outcome(white: Quantity) -> str:
        return check_claims([claim(low=limit)], [log(white)])[0].outcome

    order = ("not met", "inconclusive", "met")
    now = outcome(quantity(value, u))
    assert order.index(outcome(quantity(value * more, u))) >= order.index(now)
    assert outcome(quantity(value, u * more)) in (now, "inconclusive")
    assert now in OUTCOMES


def gray(target: str, mean: float, sample: str) -> Results:
    """A log whose grayscale is held against ``target``."""
    aimed = made.results().target
    assert aimed is not None
    block = made.grayscale()
    averages = tuple(replace(one, mean=quantity(mean, 0.05, "1")) for one in block.delta_e)
    return made.results(
        sample=sample,
        target=replace(aimed, name=target),
        grayscale=(replace(block, delta_e=averages),),
        uncertainty={"calibration_percent": 1.0},
    )


def test_logs_that_hold_for_different_targets_are_not_weighed_together() -> None:
    """The same panel is within 2 of one target and not of another: what the claim is for decides, else nothing does."""
    logs = [gray("srgb", 1.0, "a/1"), gray("bt1886", 3.0, "a/2")]
    made_claim = replace(claim(high=2.0, figure="grayscale delta E mean"), unit="1", conditions="")
    (checked,) = check_claims([made_claim], logs)
    assert [one.outcome for one in checked.findings] == ["met", "not met"]
    assert checked.outcome == "inconclusive"
    assert "leaves open which conditions it is for" in checked.why
    assert "target srgb: " in checked.why
    (checked,) = check_claims([replace(made_claim, conditions="target srgb")], logs)
    assert checked.outcome == "met"
    assert [[one.state for one in found.conditions] for found in checked.findings] == [["met"], ["differs"]]
    (checked,) = check_claims([made_claim], [logs[0], gray("bt1886", 1.2, "a/2")])
    assert checked.outcome == "met", "they agree, so it does not matter"
    (checked,) = check_claims([made_claim], [gray("srgb", 3.0, "a/1"), gray("srgb", 1.0, "a/2")])
    assert checked.outcome == "not met", "one unit that fails is enough, under the same conditions"
