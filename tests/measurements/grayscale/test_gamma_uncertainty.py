"""The uncertainty of the largest residual of a gamma fit, and of the worst deviation from the GSDF."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.colour import tone_curves as curves
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.measurements.grayscale import gamma
from benchd.measurements.grayscale.results import GsdfResponse
from tests.analysis.logs import Log, target_fields, xyz

SIGNAL = [k / 10 for k in range(1, 10)]
LIGHT = [100.0 * v**2.2 * (1.0 + 0.05 * np.sin(6.0 * v)) + 0.1 for v in SIGNAL]


def light(value: float, name: str, relative: float) -> Quantity:
    return Quantity(value, "cd/m2", 3, sources=Fixed(((Source(name), relative * value),)))


def residual(factors: Mapping[int, float], white_fixed: bool) -> float:
    """By the fit itself, with some lights read otherwise; -1 is white, -2 black."""
    read = [value * factors.get(k, 1.0) for k, value in enumerate(LIGHT)]
    white, black = 100.1 * factors.get(-1, 1.0), 0.1 * factors.get(-2, 1.0)
    relative = [(one - black) / (white - black) for one in read]
    return gamma.fit(SIGNAL, relative, white_fixed=white_fixed)[1]


@pytest.mark.parametrize("white_fixed", [True, False])
def test_the_largest_residual_moves_with_each_light_as_the_fit_does(white_fixed: bool) -> None:
    lights = [light(value, f"L{k}", 1e-3) for k, value in enumerate(LIGHT)]
    _, largest = gamma.fitted(
        SIGNAL, lights, light(100.1, "L-1", 1e-3), light(0.1, "L-2", 1e-3), white_fixed=white_fixed
    )
    assert largest.value == pytest.approx(residual({}, white_fixed))
    assert largest.sources is not None
    found = largest.sources.contributions()
    assert found is not None
    for k in (*range(9), -1, -2):
        moved = (residual({k: 1.0 + 1e-5}, white_fixed) - residual({k: 1.0 - 1e-5}, white_fixed)) * 50.0
        assert found.get(Source(f"L{k}"), 0.0) == pytest.approx(moved, abs=2e-7), f"light {k}"
    low, high = largest.interval or (0.0, 0.0)
    assert low < residual({}, white_fixed) < high


def test_noise_alone_reads_a_residual_that_may_be_none() -> None:
    dice = np.random.default_rng(3)
    lights = [light(100.0 * v**2.2 * (1.0 + 2e-3 * dice.standard_normal()), f"L{v}", 2e-3) for v in SIGNAL]
    _, largest = gamma.fitted(SIGNAL, lights, light(100.0, "W", 2e-3), light(1e-3, "B", 2e-3), white_fixed=False)
    assert largest.value is not None
    assert largest.value > 0.0
    assert (largest.interval or (1.0, 0.0))[0] == 0.0


def gsdf(scatter: float, scale: float = 1.0) -> GsdfResponse:
    codes = list(range(0, 256, 15))
    log = Log(
        [{"name": "grayscale", "kind": "grayscale", "codes": codes, "bits": 8, "white": "target"}],
        target=target_fields({"kind": "gsdf"}),
    )
    dice = np.random.default_rng(4)
    for code in codes:
        value = scale * (249.5 * (code / 255) ** 2.2 + 0.5)
        readings = [xyz(value * (1.0 + scatter * dice.standard_normal())) for _ in range(4)]
        log.measure(f"grayscale/code-{code}", {"code": code}, readings, code=code)
    found = analyse(log.end()).of("grayscale")[0].gsdf
    assert found is not None
    return found


def test_the_worst_gsdf_deviation_has_an_interval_that_holds_the_exact_one() -> None:
    exact, read = gsdf(0.0).worst.value, gsdf(3e-3).worst
    assert exact is not None
    low, high = read.interval or (0.0, 0.0)
    assert low < exact < high
    assert high - low < 5.0, "%"


def test_the_goal_of_gsdf_moves_with_the_white_that_it_is_put_through() -> None:
    """One per cent more light from white changes the goal of the first interval as the curve does."""
    found = gsdf(3e-3).intervals[1].deviation
    assert found.sources is not None
    contributions = found.sources.contributions()
    assert contributions is not None
    of_white = (
        sum(v * v for source, v in contributions.items() if source.name == "readings of grayscale/code-255") ** 0.5
    )

    def goal(white: float) -> float:
        first, second = (float(curves.gsdf(np.array([code / 255]), white, 0.5)[0]) for code in (15, 30))
        return 2.0 * (second - first) / (second + first)

    response = 100.0 + (found.value or 0.0)
    change = response * abs(goal(250.0 * 1.001) / goal(250.0 * 0.999) - 1.0) / 2e-3  # in % for 100 % of white
    relative_u = of_white / change
    assert 0.5e-3 < relative_u < 3e-3, "the standard uncertainty of the mean of four readings of 0.3 %"
