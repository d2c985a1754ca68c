"""Two results: different, equivalent, or inconclusive."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.verdicts.equivalence import Margin, Measurand, decide, holm
from benchd.distributions import t_above, t_quantile
from tests.analysis.false_alarms import of_replicates
from tests.analysis.published_tests import tost, welch
from tests.oracles import stats

# Data of the check values of the handbook's section on statistics, computed apart from this code.
FIRST = (401.2, 399.8, 400.5, 400.1, 399.4, 400.9)
SECOND = (402.3, 401.1, 402.0, 401.6, 402.8, 401.4)


def test_welch_of_the_car_mileage_data() -> None:
    # NIST/SEMATECH e-Handbook 1.3.5.3, summary data (from memory): t -12.94627, dof 136.8750
    usa = Measurand(20.14458, 6.41470 / math.sqrt(249), 248, n=249, s=6.41470)
    japan = Measurand(30.48101, 6.10771 / math.sqrt(79), 78, n=79, s=6.10771)
    found = welch(usa, japan)
    assert found.t == pytest.approx(-12.94627, abs=5e-6)
    assert found.dof == pytest.approx(136.8750, abs=5e-5)
    assert decide(usa, japan).different


def test_different_and_equivalent_can_both_be_true() -> None:
    # worked example with check values to 1e-6
    a, b = of_replicates(FIRST, "cd/m2"), of_replicates(SECOND, "cd/m2")
    one, other = welch(a, b), tost(a, b, 4.0)
    verdict = decide(a, b, Margin(4.0))
    assert verdict.difference == pytest.approx(-1.55, abs=1e-6)
    assert verdict.u == pytest.approx(0.376903, abs=1e-6)
    assert (one.dof, one.p) == (pytest.approx(9.931088, abs=1e-6), pytest.approx(0.0021331, abs=1e-7))
    assert other.t_low == pytest.approx(6.500353, abs=1e-6)
    assert other.t_high == pytest.approx(-14.725291, abs=1e-6)
    assert other.p == pytest.approx(3.5576e-5, abs=1e-9)
    assert (other.low, other.high) == (pytest.approx(-2.233603, abs=1e-6), pytest.approx(-0.866397, abs=1e-6))
    assert verdict.answer == "different and equivalent"
    assert verdict.p_different >= one.p
    assert verdict.p_equivalent is not None
    assert verdict.p_equivalent >= other.p
    assert decide(a, b).answer == "different"


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.integers(2, 9), st.integers(2, 9), st.floats(0.05, 20.0), st.integers(0, 10_000), st.floats(-3.0, 3.0))
def test_the_published_tests_agree_with_scipy(n: int, m: int, ratio: float, seed: int, shift: float) -> None:
    rng = np.random.default_rng(seed)
    first, second = rng.normal(10.0, 1.0, n), rng.normal(10.0 + shift, ratio, m)
    a, b = of_replicates(first.tolist()), of_replicates(second.tolist())
    found, oracle = welch(a, b), stats.ttest_ind(first, second, equal_var=False)
    assert (found.t, found.p) == (pytest.approx(oracle.statistic), pytest.approx(oracle.pvalue))
    up = stats.ttest_ind(first + 2.0, second, equal_var=False, alternative="greater").pvalue
    down = stats.ttest_ind(first - 2.0, second, equal_var=False, alternative="less").pvalue
    assert tost(a, b, 2.0).p == pytest.approx(max(up, down), abs=1e-12)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(
    st.floats(-5.0, 5.0),
    st.floats(0.01, 3.0),
    st.floats(0.01, 3.0),
    st.floats(1.0, 60.0),
    st.floats(1.0, 60.0),
    st.floats(0.1, 9.0),
)
def test_laws_of_a_verdict(d: float, ua: float, ub: float, dof_a: float, dof_b: float, size: float) -> None:
    a, b = Measurand(100.0 + d, ua, dof_a), Measurand(100.0, ub, dof_b)
    verdict, mirrored = decide(a, b, Margin(size)), decide(b, a, Margin(size))
    # Who is named first does not matter.
    assert verdict.answer == mirrored.answer
    assert verdict.low == pytest.approx(-mirrored.high, rel=1e-9, abs=1e-9)
    # The intervals say the same as the tests.
    assert verdict.different == (verdict.low > 0.0 or verdict.high < 0.0)
    assert verdict.equivalent == (-size < verdict.low90 and verdict.high90 < size)
    # Nothing is judged more boldly than by the published tests.
    assert verdict.p_different >= welch(a, b).p * (1.0 - 1e-9)
    # A wider margin never takes an equivalence away.
    assert decide(a, b, Margin(2.0 * size)).equivalent >= verdict.equivalent


def test_a_shared_error_is_left_out_when_the_caller_says_so() -> None:
    # 1 % of scale uncertainty on both sides, read with one meter: what differs is the scatter alone
    a, b = Measurand(400.0, 4.01, unit="cd/m2"), Measurand(404.0, 4.05, unit="cd/m2")
    assert decide(a, b).answer == "inconclusive"
    assert decide(a, b, u_difference=0.5, dof_difference=8.0).answer == "different"


def test_what_has_no_uncertainty_at_all() -> None:
    assert decide(Measurand(1.0, 0.0), Measurand(2.0, 0.0), Margin(3.0)).answer == "different and equivalent"
    assert decide(Measurand(1.0, 0.0), Measurand(1.0, 0.0), Margin(3.0)).answer == "equivalent"


def test_what_can_not_be_compared_is_refused() -> None:
    with pytest.raises(ValueError, match="can't be compared"):
        decide(Measurand(1.0, 0.1, unit="cd/m2"), Measurand(1.0, 0.1, unit="K"))
    with pytest.raises(ValueError, match="larger than zero"):
        Margin(0.0)
    with pytest.raises(ValueError, match="finite value"):
        Measurand(math.nan, 0.1)


def test_a_margin_in_percent_is_of_the_mean_of_both() -> None:
    verdict = decide(Measurand(100.0, 0.1), Measurand(200.0, 0.1), Margin(2.0, percent=True))
    assert verdict.margin == pytest.approx(3.0)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(st.floats(0.5, 2.0), st.floats(0.001, 3.0), st.floats(0.001, 3.0), st.floats(1.0, 60.0), st.floats(0.1, 40.0))
def test_the_order_of_two_changes_no_verdict(times: float, ua: float, ub: float, dof: float, size: float) -> None:
    a, b, margin = Measurand(100.0 * times, ua, dof), Measurand(100.0, ub), Margin(size, percent=True)
    verdict, mirrored = decide(a, b, margin), decide(b, a, margin)
    assert (verdict.answer, verdict.margin) == (mirrored.answer, mirrored.margin)
    assert verdict.p_equivalent == pytest.approx(mirrored.p_equivalent, rel=1e-9, abs=1e-15)


def test_holm_as_in_a_worked_example() -> None:
    # p .01 .04 .03 .005 at 5 % (a common textbook case): compared with .0125, .0167, .025; the third stops it
    pairs = [
        (Measurand(t_quantile(1.0 - p / 2.0, math.inf), 1.0), Measurand(0.0, 0.0), None)
        for p in (0.01, 0.04, 0.03, 0.005)
    ]
    found = holm([decide(*pair) for pair in pairs])
    assert [one.different for one in found] == [True, False, False, True]
    assert [one.alpha_different for one in found] == pytest.approx([0.05 / 3, 0.05, 0.05 / 2, 0.05 / 4])
    assert found[1].answer == "inconclusive"
    assert "among 4 figures" in found[1].why
    assert holm([]) == ()


def test_the_chance_of_any_false_alarm_among_many_is_at_most_5_percent() -> None:
    rng = np.random.default_rng(5)
    alarms = 0
    for values in rng.normal(0.0, 1.0, (400, 6, 2, 4)).tolist():
        pairs = [(of_replicates(a), of_replicates(b), None) for a, b in values]
        alarms += any(one.different for one in holm([decide(*pair) for pair in pairs]))
    assert alarms / 400 <= 0.05 + 2.0 * math.sqrt(0.05 * 0.95 / 400)


def test_how_many_more_readings_keeps_its_promise() -> None:
    """What is advised leads to an answer with about 80 %, whatever the true difference is."""
    a = of_replicates([100.0, 101.0, 99.4, 100.3])
    b = of_replicates([100.2, 99.1, 101.1, 99.9])
    verdict = decide(a, b, Margin(1.0))
    assert verdict.answer == "inconclusive"
    assert verdict.more is not None
    assert verdict.why == f"about {verdict.more} more readings on either side would decide"
    rng = np.random.default_rng(6)
    count, spread = 4 + verdict.more, math.hypot(a.s or 0.0, b.s or 0.0) / math.sqrt(2.0)
    for true in (0.0, 0.25, 0.5, 0.75, 1.0):
        told = 0
        for _ in range(200):
            x = of_replicates(rng.normal(100.0 + true, spread, count).tolist())
            y = of_replicates(rng.normal(100.0, spread, count).tolist())
            told += decide(x, y, Margin(1.0)).answer != "inconclusive"
        assert told / 200 >= 0.8 - 2.5 * math.sqrt(0.8 * 0.2 / 200), true


def test_why_no_number_is_advised() -> None:
    a, b = Measurand(100.0, 1.0), Measurand(100.5, 1.0)
    assert "state a margin" in decide(a, b).why
    assert "is not known" in decide(a, b, Margin(1.0)).why
    # Most of the uncertainty is no scatter of readings, so more of them do not help.
    a, b = Measurand(100.0, 1.0, 50.0, n=5, s=0.1), Measurand(100.5, 1.0, 50.0, n=5, s=0.1)
    verdict = decide(a, b, Margin(1.0))
    assert verdict.more is None
    assert "no number of readings" in verdict.why


def test_below_a_critical_t_there_is_no_step() -> None:
    """The tail of a mixture is that of its parts: between the one of few and the one of many readings."""
    few, many = Measurand(1.0, 1.0, 2.0), Measurand(0.0, 1.0, 30.0)
    p = decide(few, many).p_different
    assert 2.0 * t_above(1.0 / math.sqrt(2.0), 30.0) < p < 2.0 * t_above(1.0 / math.sqrt(2.0), 2.0)
