"""The normal distribution, Student's t and chi square against scipy and published tables."""

from __future__ import annotations

import math

import pytest

from benchd.distributions import (
    _central_area,
    chi_square_quantile,
    incomplete_beta,
    normal_cdf,
    normal_quantile,
    root_above,
    t_above,
    t_cdf,
    t_quantile,
)
from tests.oracles import stats

PS = (0.5, 0.6, 0.9, 0.975, 0.999, 1.0 - 1e-9)


# NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.2 (more digits: own computation), whose two-sided 95 %
# of 1, 4, 9 and 16 degrees of freedom are those of JCGM 100:2008, table G.2.
@pytest.mark.parametrize(
    ("p", "dof", "expected"),
    [
        (0.975, 1, 12.7062),
        (0.975, 4, 2.7764),
        (0.975, 9, 2.2622),
        (0.975, 16, 2.1199),
        (0.95, 4, 2.131847),
        (0.95, 1, 6.313752),
        (0.95, 100, 1.660234),
        (0.975, 1000, 1.962339),
        (0.95, 1_000_000, 1.644855),
    ],
)
def test_published_quantiles_of_t(p: float, dof: int, expected: float) -> None:
    assert t_quantile(p, dof) == t_quantile(p, float(dof)) == pytest.approx(expected, abs=6e-5, rel=0)


def test_students_t_agrees_with_scipy_for_whole_and_broken_degrees_of_freedom() -> None:
    for dof in (0.7, 1.0, 1.5, 2.0, 3.3, 7.0, 9.931088, 50.0, 200.0, 201.0, 333.3, 1e3, 1e6, math.inf):
        for t in (-40.0, -3.0, -0.2, 0.0, 0.5, 1.96, 7.0):
            oracle = stats.t.cdf(t, dof) if math.isfinite(dof) else stats.norm.cdf(t)
            assert t_cdf(t, dof) == pytest.approx(oracle, rel=1e-8, abs=1e-300)
        for p in PS:
            oracle = stats.t.ppf(p, dof) if math.isfinite(dof) else stats.norm.ppf(p)
            assert t_quantile(p, dof) == pytest.approx(oracle, rel=1e-8, abs=1e-9), (p, dof)
    assert incomplete_beta(2.5, 4.0, 0.3) == pytest.approx(stats.beta.cdf(0.3, 2.5, 4.0), rel=1e-13)


def test_the_normal_distribution_agrees_with_scipy() -> None:
    assert normal_cdf(1.959963984540054) == pytest.approx(0.975, abs=1e-15)
    for p in (1e-9, 0.025, 0.4, *PS):
        assert normal_quantile(p) == pytest.approx(stats.norm.ppf(p), rel=1e-14, abs=1e-15)
        assert normal_cdf(normal_quantile(p)) == pytest.approx(p, rel=1e-14)


# NIST/SEMATECH e-Handbook, table 1.3.6.7.4 (from memory).
@pytest.mark.parametrize(
    ("p", "dof", "expected"), [(0.95, 10, 18.307), (0.95, 30, 43.773), (0.999, 10, 29.588), (0.999, 5, 20.515)]
)
def test_chi_square_is_near_enough(p: float, dof: int, expected: float) -> None:
    assert stats.chi2.ppf(p, dof) == pytest.approx(expected, abs=6e-4)
    assert chi_square_quantile(p, dof) == pytest.approx(expected, rel=0.02)


def test_the_series_meets_the_expansion() -> None:
    series, expansion = t_quantile(0.95, 200), t_quantile(0.95, 201)
    assert 0 < series - expansion < 6e-5


def test_median_is_zero_and_refusals() -> None:
    assert t_quantile(0.5, 7) == pytest.approx(0.0, abs=1e-12)
    for p, dof in ((0.95, 0), (1.0, 3), (0.3, 4.0)):
        with pytest.raises(ValueError, match=r"p must be 0\.5 to 1 and dof more than none"):
            t_quantile(p, dof)
    with pytest.raises(ValueError, match="more than none"):
        t_cdf(1.0, 0.0)


def test_a_root_takes_few_steps_in_the_mean() -> None:
    """A tail is a continued fraction: dear enough to matter where two hundred figures are compared."""
    taken = 0

    def above(t: float) -> float:
        nonlocal taken
        taken += 1
        return t_above(t, dof)

    cases = [(dof, p) for dof in (1.0, 2.5, 7.0, 60.0, 1e4) for p in (0.6, 0.95, 0.975, 0.995, 0.9999)]
    for dof, p in cases:
        assert root_above(above, 1.0 - p) == pytest.approx(stats.t.ppf(p, dof), rel=1e-8)
    assert taken < 15 * len(cases)


def test_what_is_known_of_a_quantile_changes_no_bit_of_it() -> None:
    for dof in range(1, 201):
        for p in (0.5, 0.95, 0.975, 1.0 - 0.0125 / 163, 1.0 - 0.0125 / 25):
            low, high = 0.0, math.pi / 2.0
            for _ in range(64):
                middle = (low + high) / 2.0
                if 0.5 + 0.5 * _central_area(middle, dof) < p:
                    low = middle
                else:
                    high = middle
            assert t_quantile(p, dof) == math.sqrt(dof) * math.tan((low + high) / 2.0), (p, dof)
