"""A small plan that is read to a precision: every figure has an interval, and it holds the truth."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from benchd.analysis.log.log_data import collect
from tests.coverage.trial import Bench, Checked, trial
from tests.coverage.worlds import BY_NAME, World

SMALL = BY_NAME["small-plan"]
WARM = replace(SMALL, how="warm_up: {minutes: 12}\nrepeatability: 0.5 %\n")
FEWER = replace(WARM, blocks="  - luminance: {}\n  - grayscale: {codes: [0, 128, 255]}\n")


def checked(world: World, seed: int) -> list[Checked]:
    return list(trial(world, seed))


@pytest.mark.parametrize("world", [WARM, FEWER, SMALL], ids=["warm", "fewer", "cold"])
def test_every_figure_has_an_interval(world: World) -> None:
    """The noise is known from the warm-up and from the patches that were read more than once."""
    found = [one for seed in range(8) for one in checked(world, seed)]
    assert len(found) >= 400
    assert not [one.path for one in found if one.kind == "missing"]
    assert sum(one.held for one in found) >= 0.9 * len(found)


def test_what_was_read_once_has_the_noise_of_the_warm_up() -> None:
    case = WARM.draw(Random("once"))
    log_data = collect(Bench(case, 1).records(WARM.plan(case)))
    once = [one for one in log_data.measured.values() if one.n == 1]
    assert len(once) >= 5
    for one in once:
        assert one.mean is not None
        assert one.integration_s is not None
        vectors = [vector for source, vector in one.vectors() or () if source.name.startswith("readings of ")]
        found = sum(vector[1] ** 2 for vector in vectors) ** 0.5
        true = case.noise.repeatability_cd_m2(one.mean[1], one.integration_s)
        assert found == pytest.approx(true, rel=0.25), one.step
