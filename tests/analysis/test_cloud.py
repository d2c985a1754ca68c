"""Intervals of lengths and extremes: against the noncentral chi distribution and by trial."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.analysis.colour import colorimetry as colour
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.colour_clouds import delta_e_cloud
from benchd.analysis.uncertainty.exact_cloud import ExactCloud
from benchd.analysis.uncertainty.noisy_length import quantile
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, OfLight, Source, Sum
from tests.oracles import optimize, stats


def own(name: str, u: float) -> Fixed:
    return Fixed(((Source(name), u),))


def vector(read: float, u: float, components: int) -> Cloud:
    """One vector along the first axis, equal errors in all directions."""
    values = [[read] + [0.0] * (components - 1)]
    return Cloud(values, [[own(f"axis {k}", u) for k in range(components)]])


def noncentral_chi(read: float, u: float, components: int) -> tuple[float, float]:
    """The exact interval of a length: scipy's noncentral chi square, inverted."""

    def end(p: float) -> float:
        def off(length: float) -> float:
            return float(stats.ncx2.sf((read / u) ** 2, components, (length / u) ** 2 + 1e-12)) - p

        return 0.0 if off(0.0) > 0.0 else float(optimize.brentq(off, 0.0, read + 10.0 * u))

    return end(0.025), end(0.975)


@pytest.mark.parametrize("components", [1, 2, 3])
@pytest.mark.parametrize("read", [1.5, 3.0, 5.0, 20.0])
def test_a_length_with_equal_errors_has_the_interval_of_noncentral_chi(read: float, components: int) -> None:
    found = vector(read, 1.0, components).interval(0)
    assert found is not None
    low, high = noncentral_chi(read, 1.0, components)
    assert found[0] == pytest.approx(low, abs=0.2)
    assert found[1] == pytest.approx(high, abs=0.2)


def test_what_noise_alone_would_read_may_be_nothing() -> None:
    found = vector(1.0, 1.0, 3).interval(0)
    assert found is not None
    assert found[0] == 0.0


@pytest.mark.parametrize("components", [1, 2, 3])
def test_a_reading_near_zero_does_not_bring_the_truth_down_with_it(components: int) -> None:
    """Errors alone are as long as their 97.5 % quantile (scipy's chi); a reading shorter than most says no less."""
    alone = float(stats.chi.ppf(0.975, components))
    for read in (0.0, 1e-6, 0.03, 0.1, 0.3, 0.6, 1.0):
        found = vector(read, 1.0, components).interval(0)
        assert found is not None
        assert found[0] == 0.0
        assert found[1] >= alone - 0.1
        assert found[1] == pytest.approx(max(alone, noncentral_chi(read, 1.0, components)[1]), abs=0.25)


def from_centre(read: np.ndarray) -> Cloud:  # type: ignore[type-arg]
    """Nine colours (9, 2) with errors of 1, from the one in the middle."""
    nodes = [[own(f"place {row} {axis}", 1.0) for axis in range(2)] for row in range(9)]
    rows = [[Sum(((1.0, one), (-1.0, other))) for one, other in zip(row, nodes[4], strict=True)] for row in nodes]
    return Cloud(read - read[4], rows)


@pytest.mark.parametrize("spread", [0.5, 1.7])
def test_the_largest_of_all_pairs_holds_the_truth_and_ends_where_that_from_the_centre_does(spread: float) -> None:
    """Places as far apart as their errors, and somewhat more and less; at least 93 % of 60 trials."""
    dice = np.random.default_rng(4)
    held = 0
    for _ in range(60):
        true = spread * dice.standard_normal((9, 2))
        several = from_centre(true + dice.standard_normal((9, 2)))
        found, centre = several.interval("pair"), several.interval("max")
        assert found is not None
        assert centre is not None
        assert found[0] >= centre[0]
        assert found[1] >= centre[1]
        assert found[1] > several.read("pair")
        held += found[0] <= max(math.dist(one, other) for one in true for other in true) <= found[1]
    assert held >= 56


@pytest.mark.parametrize("most", [0.3, 4.0])
def test_lower_ends_that_hold_together_are_not_too_high(most: float) -> None:
    """Ten equal lengths, errors of each its own, of one size to a twentieth of it: 93 % of 200 trials at least."""
    dice, u = np.random.default_rng(8), np.geomspace(most / 20.0, most, 10)
    nodes = [[own(f"row {k} {axis}", float(u[k])) for axis in range(2)] for k in range(10)]
    held = 0
    for _ in range(200):
        found = Cloud(np.array([1.0, 0.0]) + u[:, None] * dice.standard_normal((10, 2)), nodes).interval("max")
        assert found is not None
        held += found[0] <= 1.0 <= found[1]
    assert held >= 186


def test_far_from_zero_it_is_the_linear_uncertainty() -> None:
    cloud = vector(100.0, 1.0, 3)
    quantity = Quantity(100.0, "1", sources=cloud.row(0))
    assert quantity.u == pytest.approx(1.0)
    stated = quantity.stated
    assert stated is not None
    assert stated.k is None
    assert (stated.low, stated.high) == (pytest.approx(98.04, abs=0.15), pytest.approx(101.96, abs=0.15))


def test_without_noise_the_value_stands_alone() -> None:
    cloud = Cloud([[3.0, 4.0]], [[Fixed(), Fixed()]])
    assert cloud.interval(0) == (5.0, 5.0)
    assert cloud.interval("mean") == (5.0, 5.0)


def test_the_same_question_has_the_same_answer() -> None:
    first, again = vector(2.0, 1.0, 3), vector(2.0, 1.0, 3)
    assert first == again
    assert hash(first) == hash(again)
    assert first.interval("mean") == again.interval("mean")


@pytest.mark.parametrize("which", ["max", "range", "mean"])
@pytest.mark.parametrize("spread", [0.0, 1.0, 5.0])
def test_intervals_of_extremes_hold_the_truth(which: str, spread: float) -> None:
    """Nine places with noise 1 each, true values ``spread`` apart: at least 92 % of 150 trials hold the truth."""
    dice = np.random.default_rng(11)
    held = 0
    for _ in range(150):
        true = 20.0 + spread * dice.standard_normal(9)
        read = true + dice.standard_normal(9)
        about = float(read.mean()) if which == "range" else 0.0
        cloud = Cloud((read - about)[:, None], [[own(f"place {k}", 1.0)] for k in range(9)])
        found = cloud.interval(which)  # type: ignore[arg-type]
        assert found is not None
        figure = {"max": true.max(), "range": float(np.ptp(true)), "mean": true.mean()}[which]
        held += found[0] <= figure <= found[1]
    assert held >= 138


def light(x: float, y: float, z: float, name: str = "step") -> StepData:
    v = 1e-4
    covariance = (v * x * x, v * y * y, v * z * z, 0.0, 0.0, 0.0)
    return StepData(
        name,
        "b",
        {},
        (0, 0, 0),
        8,
        "centre",
        (0.5, 0.5),
        50,
        50,
        (x, y, z),
        covariance,
        0,
        0,
        0,
        ((1, 1),),
        metrology=Metrology(),
    )


def test_a_colour_difference_is_the_length_of_its_row_and_moves_as_ciede2000_does() -> None:
    white = light(95.0, 100.0, 109.0, "white")
    several = [light(41.0, 43.0, 50.0, "a"), light(20.0, 21.5, 22.0, "b"), light(5.0, 3.0, 20.0, "c")]
    goal = colour.lab_from_xyz(
        np.array([[40.0, 42.0, 46.0], [20.0, 21.0, 23.0], [4.0, 2.5, 18.0]]), [95.0, 100.0, 109.0]
    )

    def pairs(xyz: colour.Array, white_xyz: colour.Array) -> tuple[colour.Array, colour.Array]:
        return goal, colour.lab_from_xyz(xyz, white_xyz)

    cloud = delta_e_cloud(pairs, several, [white])
    by_formula = colour.delta_e_2000(*pairs(np.array([one.mean for one in several]), np.array(white.mean)))
    assert np.sqrt((cloud.values**2).sum(axis=1)) == pytest.approx(by_formula)
    for row, one in enumerate(several):
        found = cloud.row(row).contributions()
        assert found is not None
        own_part = Source(f"readings of {one.step}", 49.0, 0)
        of_y = abs(found[own_part])
        # Luminance up by its own standard uncertainty, the rest as it is: by the formula itself.
        assert one.mean is not None
        u = OfLight(one, "Y").contributions()
        assert u is not None
        size = math.sqrt(sum(amount**2 for amount in u.values()))
        up = np.array([[one.mean[0], one.mean[1] + 1e-3 * size, one.mean[2]]])
        moved = colour.delta_e_2000(goal[row : row + 1], colour.lab_from_xyz(up, white.mean))
        assert of_y == pytest.approx(1e3 * abs(float(moved[0]) - float(by_formula[row])), rel=0.002)


def against_d65(xyz: np.ndarray, white_xyz: object = None) -> tuple[np.ndarray, np.ndarray]:  # type: ignore[type-arg]
    """Greys against D65 of their own luminance."""
    point = np.array([95.047, 100.0, 108.883])
    return colour.lab_from_xyz(xyz[:, 1:2] * point / 100.0, point), colour.lab_from_xyz(xyz, point)


def differences(readings: np.ndarray, white: StepData, u: float) -> Cloud:  # type: ignore[type-arg]
    """Five greys against the white's own, errors of ``u`` in common on X and Z of all."""
    several = [light(*row, name=f"grey {i}") for i, row in enumerate(readings)]

    return delta_e_cloud(against_d65, [Shifted(one, u) for one in several], [white])


class Shifted:
    """A light whose X and Z have errors that all such lights share, and nothing else."""

    def __init__(self, one: StepData, u: float) -> None:
        self.mean, self._u = one.mean, u

    def vectors(self) -> list[tuple[Source, tuple[float, float, float]]]:
        assert self.mean is not None
        x, _, z = self.mean
        return [(Source("gain x"), (self._u * x, 0.0, 0.0)), (Source("gain z"), (0.0, 0.0, self._u * z))]


class Apart(Shifted):
    """A light whose X and Z have errors of its own."""

    def __init__(self, name: str, one: StepData, u: float) -> None:
        super().__init__(one, u)
        self._name = name

    def vectors(self) -> list[tuple[Source, tuple[float, float, float]]]:
        return [(Source(f"{source.name} of {self._name}"), change) for source, change in super().vectors()]


def test_one_long_length_among_noisy_ones_is_not_explained_away() -> None:
    """One grey is far off and well known, one dark and all noise: the largest is no less than the first.

    The largest of errors alone is that of the dark one, longer than what was read.
    """
    grey, dark = light(0.95047 * 30.0, 30.0, 1.02 * 30.0, "grey"), light(0.00095047, 0.001, 0.00108883, "dark")
    cloud = delta_e_cloud(against_d65, [Apart("grey", grey, 0.002), Apart("dark", dark, 40.0)], [])
    [first, second] = (cloud.interval(row) for row in range(2))
    assert first is not None
    assert second is not None
    assert first[0] > 2.0
    assert second[0] == 0.0
    assert second[1] > first[1]
    for which, least in (("max", 0.9 * first[0]), ("mean", 0.45 * first[0])):
        found = cloud.interval(which)  # type: ignore[arg-type]
        assert found is not None
        assert found[0] >= least
    plain = Cloud(
        [[5.0, 0.0], [0.1, 0.0]], [[own(f"row {k} {axis}", (0.1, 4.0)[k]) for axis in range(2)] for k in range(2)]
    )
    for which, least in (("max", 4.7), ("mean", 2.35), ("pair", 0.0)):
        found = plain.interval(which)  # type: ignore[arg-type]
        assert found is not None
        assert found[0] >= least


def test_how_far_a_colour_is_known_in_a_and_b() -> None:
    """Errors of X move a* alone, those of Z b* alone: a* = 500 (f(X/Xn) - f(Y/Yn)), CIE 15; drawn 20 000 times."""
    u, readings = 0.01, np.array([[20.0, 21.0, 23.0], [60.0, 50.0, 20.0]])
    cloud = differences(readings, light(95.0, 100.0, 109.0, "white"), u)
    assert isinstance(cloud, ExactCloud)
    found = cloud.reach_of_colour()
    assert found is not None
    dice = np.random.default_rng(3)
    for row, reach in zip(readings, found, strict=True):
        gains = 1.0 + u * dice.standard_normal((20_000, 2))
        drawn = np.stack([row[0] * gains[:, 0], np.full(20_000, row[1]), row[2] * gains[:, 1]], axis=-1)
        lab = colour.lab_from_xyz(drawn, [95.047, 100.0, 108.883])
        assert reach == pytest.approx(1.96 * max(lab[:, 1].std(), lab[:, 2].std()), rel=0.03)


@pytest.mark.parametrize("tint", [0.0, 0.02, 0.15])
def test_intervals_of_ciede2000_hold_the_truth_near_and_far(tint: float) -> None:
    """One meter's gains drawn 200 times; far from zero the weights of CIEDE2000 differ by a third over the error."""
    level = np.array([4.0, 12.0, 25.0, 50.0, 90.0])[:, None]
    true = level * np.array([0.95047 * (1.0 + tint), 1.0, 1.08883 * (1.0 - tint)])
    white = light(95.0, 100.0, 109.0, "white")
    dice, u = np.random.default_rng(5), 0.01
    truth = np.sqrt((differences(true, white, u).values ** 2).sum(axis=1))
    figures = {2: truth[2], "mean": truth.mean(), "median": np.median(truth), "max": truth.max()}
    figures["percentile_95"] = np.percentile(truth, 95.0)
    held = dict.fromkeys(figures, 0)
    for _ in range(200):
        gains = 1.0 + u * dice.standard_normal(2)
        cloud = differences(true * np.array([gains[0], 1.0, gains[1]]), white, u)
        for which, figure in figures.items():
            found = cloud.interval(which)  # type: ignore[arg-type]
            assert found is not None
            held[which] += found[0] <= figure <= found[1]
    assert {which: count for which, count in held.items() if count < 180} == {}


@given(st.lists(st.lists(st.floats(allow_infinity=False), min_size=3, max_size=3), min_size=1), st.floats(0.0, 1.0))
def test_quantiles_are_those_of_numpy_to_the_last_bit(rows: list[list[float]], level: float) -> None:
    values = np.array(rows)
    for axis in (0, -1):
        with np.errstate(all="ignore"):
            assert np.array_equal(quantile(values, level, axis), np.quantile(values, level, axis=axis), equal_nan=True)
