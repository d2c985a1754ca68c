"""Differences of figures whose intervals are not symmetrical: closed form, what cancels, and the truth by trial."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.colour_clouds import delta_e_cloud
from benchd.analysis.uncertainty.difference_interval import DifferenceSources, asymmetric_difference
from benchd.analysis.uncertainty.quantity import Quantity, difference, relabelled
from benchd.analysis.uncertainty.sources import Fixed, Source, Sum, coverage_factor
from benchd.analysis.verdicts.equivalence import Margin, Measurand, Verdict, decide
from benchd.measurements.gamut.area import Covered

WHITE = np.array([95.047, 100.0, 108.883])
LEVELS = np.array([4.0, 18.0, 40.0, 90.0])[:, None]
GAIN, NOISE = 0.004, 0.001
TRIALS = 120
WHICH = ("max", "mean")
MIN_HELD, MAX_ALARMS = 108, 12
"""Of 120: with 95 % each fewer come about once in 100 (binomial: 108 or fewer 2 %, 12 alarms or more 2 %)."""


class Grey:
    """A light with gains of X and Z that a meter gives to all, and noise of its own."""

    def __init__(self, mean: np.ndarray, name: str, meter: str) -> None:  # type: ignore[type-arg]
        x, y, z = mean.tolist()
        self.mean, self._name, self._meter = (x, y, z), name, meter

    def vectors(self) -> list[tuple[Source, tuple[float, float, float]]]:
        x, y, z = self.mean
        noise = [(NOISE * x, 0.0, 0.0), (0.0, NOISE * y, 0.0), (0.0, 0.0, NOISE * z)]
        return [
            (Source(f"gain x of {self._meter}", shared=True), (GAIN * x, 0.0, 0.0)),
            (Source(f"gain z of {self._meter}", shared=True), (0.0, 0.0, GAIN * z)),
            *((Source(self._name, part=part), one) for part, one in enumerate(noise)),  # type: ignore[list-item]
        ]


def pairs(xyz: colour.Array) -> tuple[colour.Array, colour.Array]:
    return colour.lab_from_xyz(xyz[:, 1:2] * WHITE / 100.0, WHITE), colour.lab_from_xyz(xyz, WHITE)


def greys(tint: tuple[float, float]) -> colour.Array:
    return np.asarray(LEVELS * WHITE / 100.0 * np.array([1.0 + tint[0], 1.0, 1.0 + tint[1]]))


def read(lights: colour.Array, gains: colour.Array, meter: str, log: str) -> dict[str, Quantity]:
    """The maximum and mean CIEDE2000 of greys, read by a meter with ``gains``."""
    cloud = delta_e_cloud(
        pairs, [Grey(one, f"grey {i}", meter) for i, one in enumerate(lights * [1.0 + gains[0], 1.0, 1.0 + gains[1]])]
    )
    return {
        which: relabelled(Quantity(cloud.read(which), "1", sources=cloud.over(which)), f"{log}:")  # type: ignore[arg-type]
        for which in WHICH
    }


def judged(a: Quantity, b: Quantity, margin: float) -> tuple[Quantity, Verdict]:
    change = asymmetric_difference(a, b)
    stated = change.stated
    assert stated is not None
    assert a.value is not None
    assert b.value is not None
    assert isinstance(change.sources, DifferenceSources)
    verdict = decide(
        *(Measurand(one.value or 0.0, 0.0) for one in (a, b)),
        Margin(margin),
        u_difference=stated.expanded / coverage_factor(stated.dof),
        dof_difference=stated.dof,
        reach=change.sources.reach,
    )
    return change, verdict


def exact(tint: tuple[float, float], which: str) -> float:
    lengths = colour.delta_e_2000(*pairs(greys(tint)))
    return float(lengths.max() if which == "max" else lengths.mean())


@pytest.mark.parametrize("one_meter", [True, pytest.param(False, marks=pytest.mark.long)])
@pytest.mark.parametrize(
    ("first", "second"),
    [
        ((0.0, 0.0), (0.0, 0.0)),
        ((0.03, 0.0), (0.0, 0.0)),  # one far, one that is all noise
        ((0.012, 0.012), (-0.012, -0.012)),  # the same size on opposite sides
        ((0.04, 0.04), (0.012, 0.0)),
    ],
    ids=["both none", "far and none", "opposite", "both far"],
)
def test_the_interval_holds_the_true_difference_and_equal_ones_are_seldom_called_different(
    first: tuple[float, float], second: tuple[float, float], one_meter: bool
) -> None:
    """A hundred and twenty pairs of displays; where the sizes are the same, "different" is a false alarm."""
    true = {which: exact(first, which) - exact(second, which) for which in WHICH}
    dice = np.random.default_rng(5)
    held, alarms = dict.fromkeys(WHICH, 0), dict.fromkeys(WHICH, 0)
    for _ in range(TRIALS):
        gains = GAIN * dice.standard_normal((2, 2))
        lights = [greys(tint) * (1.0 + NOISE * dice.standard_normal((4, 3))) for tint in (first, second)]
        ones = read(lights[0], gains[0], "0007", "a")
        others = read(lights[1], gains[0 if one_meter else 1], "0007" if one_meter else "0008", "b")
        for which in WHICH:
            a, b = ones[which], others[which]
            change, verdict = judged(a, b, 0.5)
            assert change.interval is not None
            assert change.interval == pytest.approx((verdict.low, verdict.high))
            assert change.value == difference(a, b).value
            held[which] += verdict.low <= true[which] <= verdict.high
            alarms[which] += verdict.different
    for which in WHICH:
        assert held[which] >= MIN_HELD, which
        if abs(true[which]) < 0.05:
            assert alarms[which] <= MAX_ALARMS, which


@pytest.mark.parametrize("one_meter", [True, False])
@pytest.mark.parametrize("second", [0.0, 3.0, 30.0])
def test_what_differs_by_the_margin_is_seldom_called_equivalent(second: float, one_meter: bool) -> None:
    """Lengths of one vector of three parts with errors of 1, apart by a margin of 4; 200 pairs, 5 % of them are 10."""
    dice = np.random.default_rng(9)
    held = wrong = 0
    for _ in range(200):
        shared, own = dice.standard_normal(3), 0.3 * dice.standard_normal((2, 3))
        other = shared if one_meter else dice.standard_normal(3)
        a = vector([second + 4.0, 0.0, 0.0] + shared + own[0], "0007", "a")
        b = vector([second, 0.0, 0.0] + other + own[1], "0007" if one_meter else "0008", "b")
        _, verdict = judged(a, b, 4.0)
        held += verdict.low <= 4.0 <= verdict.high
        wrong += verdict.equivalent
    assert held >= 182  # 95 % of 200 less two and a half standard deviations
    assert wrong <= 18  # and 5 %, as much more


def vector(values: colour.Array, meter: str, log: str) -> Quantity:
    nodes = [
        Sum(
            (
                (1.0, Fixed(((Source(f"meter {meter}", part=k, shared=True), 1.0),))),
                (1.0, Fixed(((Source("noise", part=k), 0.3),))),
            )
        )
        for k in range(3)
    ]
    cloud = Cloud([values], [nodes])
    return relabelled(Quantity(cloud.read(0), "1", sources=cloud.row(0)), f"{log}:")


def test_two_far_and_independent_lengths_are_subtracted_as_jcgm_100_does() -> None:
    a, b = vector(np.array([100.0, 0.0, 0.0]), "0007", "a"), vector(np.array([90.0, 0.0, 0.0]), "0008", "b")
    found = asymmetric_difference(a, b).interval
    assert found is not None
    half = 1.96 * math.sqrt(2.0 * (1.0 + 0.3**2))
    assert found == (pytest.approx(10.0 - half, abs=0.2), pytest.approx(10.0 + half, abs=0.2))


def test_what_one_meter_does_wrong_in_both_cancels() -> None:
    a, b = vector(np.array([100.0, 0.0, 0.0]), "0007", "a"), vector(np.array([90.0, 0.0, 0.0]), "0007", "b")
    found = asymmetric_difference(a, b).interval
    assert found is not None
    half = 1.96 * 0.3 * math.sqrt(2.0)
    assert found == (pytest.approx(10.0 - half, abs=0.06), pytest.approx(10.0 + half, abs=0.06))


def test_a_figure_that_may_be_nothing_leaves_all_of_it_open() -> None:
    """Independent of a length that is exact: 10 - 1.5, of which all 1.5 may be noise: up to 10."""
    b = vector(np.array([1.5, 0.0, 0.0]), "0008", "b")
    exactly = relabelled(Quantity(10.0, "1", sources=Fixed(((Source("scale"), 1e-6),))), "a:")
    found = asymmetric_difference(exactly, b).interval
    assert b.interval is not None
    assert b.interval[0] == 0.0
    assert found is not None
    assert found[1] == pytest.approx(10.0, abs=0.02), "the correlation of what was drawn is not quite 0"
    assert found[0] == pytest.approx(10.0 - b.interval[1], abs=0.4)
    turned = asymmetric_difference(b, exactly).interval
    assert turned == (pytest.approx(-found[1], abs=0.1), pytest.approx(-found[0], abs=0.1))


def test_a_figure_against_itself_and_linear_ones_stay_as_they_were() -> None:
    one = vector(np.array([2.0, 1.0, 0.0]), "0007", "a")
    assert asymmetric_difference(one, one).interval == (0.0, 0.0)
    plain = [Quantity(value, "1", sources=Fixed(((Source(str(value)), 1.0),))) for value in (3.0, 5.0)]
    assert asymmetric_difference(plain[0], plain[1]) == difference(plain[0], plain[1])
    assert asymmetric_difference(one, Quantity(1.0, "1")).sources is None
    assert asymmetric_difference(one, Quantity(None, "1", status="absent")).value is None


def test_the_mean_of_several_logs_keeps_its_edge() -> None:
    """Two logs that may both be nothing, against an exact 5: their mean may be nothing too."""
    logs = [vector(np.array([1.2, 0.0, 0.0]), meter, log) for meter, log in (("0007", "a"), ("0008", "b"))]
    nodes = [one.sources for one in logs if one.sources is not None]
    both = Quantity(1.2, "1", sources=Sum(tuple((0.5, node) for node in nodes)))
    exactly = Quantity(5.0, "1", sources=Fixed(((Source("scale"), 1e-6),)))
    found = asymmetric_difference(exactly, both).interval
    assert found is not None
    assert found[1] >= 5.0 - 0.02


def covered(corner: float, log: str) -> Quantity:
    space = ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
    device = ((-1.0, -1.0), (corner, -0.01), (-1.0, 3.0))
    nodes = tuple(Fixed(((Source(f"{log} {k}"), 0.01),)) for k in range(6))
    node = Covered(Fixed(), device, nodes, space)
    return Quantity(node.read, "%", sources=node)


def test_coverages_at_the_edge_of_a_space_are_not_called_different_without_proof() -> None:
    change, verdict = judged(covered(1.01, "a"), covered(0.99, "b"), 1.0)
    assert not verdict.different
    assert change.interval is not None
    assert change.interval[0] < 0.0 < change.interval[1]
