"""Which exponentials a settling is taken to be made of: solved right, and no swing seen where there is none."""

from __future__ import annotations

import math
from itertools import pairwise
from random import Random

import numpy as np
import pytest

from benchd.run.adaptive.least_squares import Selection, Sums
from benchd.run.adaptive.settling_model import ONES, TAUS_S, Bin, mean_left

EDGES_S = [0.0, *(0.05 * 1.12**power for power in range(48))]
PER_SECOND = 1e-8


def seen(shares: dict[float, float], random: Random, scatter: float = 1.0) -> Sums:
    """Normal equations of readings over 10 s of light that has these shares left, by time constant."""
    bins = []
    for from_s, to_s in pairwise(EDGES_S):
        took_s = to_s - from_s
        light = sum(share * mean_left(tau_s, from_s, to_s) for tau_s, share in shares.items())
        noise = scatter * math.sqrt(PER_SECOND / took_s) * random.gauss(0, 1)
        bins.append(Bin(from_s, to_s, took_s, 1.0 + light + noise))
    return Sums.of(bins, PER_SECOND, 0.03)


def selected(sums: Sums) -> Selection:
    selection = Selection(sums.matrix, sums.score, sums.square, sums.dof)
    selection.select()
    return selection


@pytest.mark.parametrize("seed", range(4))
def test_the_shares_are_those_of_least_squares(seed: int) -> None:
    """Against numpy's solver, for the parts that were selected."""
    sums = seen({0.03: 0.9, 0.5: 0.08, 3.0: 0.02}, Random(seed))
    parts = selected(sums).parts
    indices = [index for index, _ in parts]
    matrix = np.array(sums.matrix)[np.ix_(indices, indices)]
    solved = np.linalg.solve(matrix, np.array(sums.score)[indices])
    assert [share for _, share in parts] == pytest.approx(list(solved), rel=1e-6)


def test_looking_at_slower_parts_changes_nothing() -> None:
    selection = selected(seen({0.03: 0.9, 0.5: 0.08}, Random(1)))
    before = dict(selection.parts)
    slower = selection.slower(math.inf)
    assert len(slower) >= 5
    assert dict(selection.parts) == pytest.approx(before, rel=1e-9)


@pytest.mark.parametrize("tau_s", [0.25, 0.38, 0.55, 0.85, 1.3])
def test_a_time_constant_between_those_of_the_grid_swings_over_in_no_case(tau_s: float) -> None:
    """A slow share of 6 %: nearly all of it seen, none of it slower than it is, no part of another sign."""
    for seed in range(12):
        parts = selected(seen({0.012: 0.94, tau_s: 0.06}, Random(f"{tau_s} {seed}"))).parts
        slow = [(TAUS_S[index], share) for index, share in parts if TAUS_S[index] > 0.1]
        assert all(share > 0.0 for _, share in slow), parts
        assert sum(share for _, share in slow) == pytest.approx(0.06, rel=0.25)
        for after_s in (tau_s, 3.0 * tau_s):
            left = sum(share * math.exp(-after_s / one_s) for one_s, share in slow)
            assert left == pytest.approx(0.06 * math.exp(-after_s / tau_s), rel=0.35, abs=2e-4)


@pytest.mark.parametrize("swing", [0.01, 0.05])
def test_light_that_swings_over_is_seen(swing: float) -> None:
    """It is brighter than its end for a second, as with limited brightness."""
    for seed in range(6):
        parts = selected(seen({0.027: -0.9, 1.0: swing}, Random(seed))).parts
        left = sum(share * math.exp(-0.8 / TAUS_S[index]) for index, share in parts)
        assert left == pytest.approx(swing * math.exp(-0.8), rel=0.2)


def test_noise_alone_has_no_parts() -> None:
    found = [selected(seen({}, Random(seed))).parts for seed in range(300)]
    assert sum(bool(parts) for parts in found) <= 6


def test_what_is_left_is_what_was_put_in() -> None:
    curve = seen({0.03: 0.9, 1.0: 0.05}, Random(3)).curve
    truth = 0.9 * mean_left(0.03, 1.0, 1.5) + 0.05 * mean_left(1.0, 1.0, 1.5)
    assert curve.left(ONES, 1.0, 1.5) == pytest.approx(truth, rel=0.1)
    assert curve.shown(1.0, 1.5) <= curve.left(ONES, 1.0, 1.5)
