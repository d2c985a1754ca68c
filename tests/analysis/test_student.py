"""Student's t against published values."""

from __future__ import annotations

import pytest

from benchd.analysis.student import t_quantile


# NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.2 (more digits: own computation).
@pytest.mark.parametrize(
    ("p", "nu", "expected"),
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
def test_published_quantiles(p: float, nu: int, expected: float) -> None:
    assert t_quantile(p, nu) == pytest.approx(expected, abs=6e-5, rel=0)


def test_the_series_meets_the_expansion() -> None:
    series, expansion = t_quantile(0.95, 200), t_quantile(0.95, 201)
    assert 0 < series - expansion < 6e-5


def test_median_is_zero_and_refusals() -> None:
    assert t_quantile(0.5, 7) == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(ValueError, match="nu at least 1"):
        t_quantile(0.95, 0)
    with pytest.raises(ValueError, match=r"0\.5 to 1"):
        t_quantile(1.0, 3)
