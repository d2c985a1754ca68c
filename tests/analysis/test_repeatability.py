"""Repeatability and reproducibility: published examples, laws, and what they do to later runs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.bench_repeatability import precision, repeatability_of, typical_size
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.meter_model.stated_sources import MeterBudget, bench_source
from tests.oracles import stats

# NIST/SEMATECH Statistical Reference Datasets, one-way analysis of variance, data set SiRstv (data from memory; they
# give its certified values): resistivity of silicon wafers, five instruments.
SILICON = (
    (196.3052, 196.1240, 196.1890, 196.2569, 196.3403),
    (196.3042, 196.3825, 196.1669, 196.3257, 196.0422),
    (196.1303, 196.2005, 196.2889, 196.0343, 196.1811),
    (196.2795, 196.1748, 196.1494, 196.1485, 195.9885),
    (196.2119, 196.1051, 196.1850, 196.0052, 196.2090),
)
# ISO 5725-2:1994, B.1: sulphur in coal, level 1, eight laboratories (data from memory; they give its printed values).
COAL = (
    (0.71, 0.71, 0.70, 0.71),
    (0.69, 0.67, 0.68),
    (0.66, 0.65, 0.69),
    (0.67, 0.65, 0.66),
    (0.70, 0.69, 0.66, 0.71, 0.69),
    (0.73, 0.74, 0.73),
    (0.71, 0.71, 0.69),
    (0.70, 0.65, 0.68),
)


def test_certified_values_of_silicon_resistivity() -> None:
    found = precision(SILICON)
    # certified: residual standard deviation 1.04076068334656E-01, mean squares 1.27865654E-02 and 1.08318280E-02
    assert found.s_r == pytest.approx(1.04076068334656e-01, rel=1e-9)
    assert found.s_l == pytest.approx(math.sqrt((1.27865654000000e-02 - 1.08318280000000e-02) / 5.0), rel=1e-6)
    assert (found.dof_r, found.runs, found.placements) == (20, 25, 5)


def test_printed_values_of_sulphur_in_coal() -> None:
    found = precision(COAL)
    assert round(found.mean, 3) == 0.690
    assert found.s_r is not None
    assert found.s_R is not None
    assert (round(found.s_r, 3), round(found.s_R, 3)) == (0.015, 0.026)
    assert found.limit_r == pytest.approx(2.8 * found.s_r)
    assert found.limit_R == pytest.approx(2.8 * found.s_R)


values = st.lists(st.lists(st.floats(-10.0, 10.0), min_size=2, max_size=5), min_size=2, max_size=5)


@settings(derandomize=True, max_examples=80, deadline=None)
@given(values)
def test_mean_squares_agree_with_scipy(groups: list[list[float]]) -> None:
    found = precision(groups)
    within = math.fsum((one - np.mean(group)) ** 2 for group in groups for one in group)
    assert found.s_r == pytest.approx(math.sqrt(within / found.dof_r), abs=1e-9)
    if found.s_r is not None and found.s_r > 1e-3:
        f = float(stats.f_oneway(*groups).statistic)
        n = typical_size([len(group) for group in groups])
        assert found.s_l == pytest.approx(math.sqrt(max(0.0, (f - 1.0) * found.s_r**2 / n)), abs=1e-6)
        assert found.s_R is not None
        assert found.s_R >= found.s_r
        assert found.dof_R is not None
        assert 0.9 <= found.dof_R <= found.runs


def test_what_the_runs_do_not_tell_is_left_out() -> None:
    alone = precision([[1.0, 2.0, 3.0]])
    assert (alone.s_r, alone.s_l, alone.s_R) == (1.0, None, None)
    single = precision([[1.0], [2.0], [3.0]])
    assert (single.s_r, single.s_l, single.s_R, single.dof_R) == (None, None, 1.0, 2.0)
    for wrong in ([[1.0]], [], [[1.0, 2.0], []]):
        with pytest.raises(ValueError, match="two runs at least"):
            precision(wrong)


def measured(step: str, xyz: np.ndarray, covariance: float = 0.0, n: int = 3) -> StepData:
    x, y, z = (float(one) for one in xyz)
    own = (covariance * x * x, covariance * y * y, covariance * z * z, 0.0, 0.0, 0.0)
    return StepData(
        step,
        "b",
        {},
        (255,) * 3,
        8,
        "centre",
        (0.5, 0.5),
        n,
        n,
        (x, y, z),
        own,
        0,
        0,
        0,
        ((1, n),),
        metrology=Metrology(),
    )


def test_the_scatter_of_a_bench_is_found_again() -> None:
    """Drawn runs with known scatter between runs, between placements and of readings: each is found within its own."""
    rng = np.random.default_rng(8)
    run_u, placement_u, reading_u, n = 0.001, 0.003, 0.002, 4
    lights = {"white": np.array([332.0, 350.0, 381.0]), "grey": np.array([66.0, 70.0, 76.0])}
    own, placed = [], []
    for _ in range(60):
        groups = []
        for _ in range(5):
            stands = placement_u * rng.normal()
            group = []
            for _ in range(3):
                factor = 1.0 + stands + run_u * rng.normal()
                run = [
                    measured(
                        step, xyz * factor * (1.0 + reading_u / math.sqrt(n) * rng.normal(size=3)), reading_u**2, n
                    )
                    for step, xyz in lights.items()
                ]
                group.append([*run, measured("black", np.array([0.3, 0.3, 0.4]) * (1.0 + rng.normal(size=3) * 0.05))])
            groups.append(group)
        found = repeatability_of(groups)
        assert found.steps == 2  # black is too dark to tell
        assert (found.between_runs_dof, found.placement_dof) == (10, 4)
        assert found.between_runs is not None
        assert found.placement is not None
        own.append(found.between_runs[1][1])
        placed.append(found.placement[1][1])
    assert math.sqrt(np.mean(placed)) == pytest.approx(placement_u, rel=0.12)
    assert math.sqrt(np.mean(own)) == pytest.approx(run_u, rel=0.25)


def test_scatter_needs_runs_and_bright_patches() -> None:
    white = measured("white", np.array([95.0, 100.0, 109.0]))
    dark = measured("black", np.array([0.1, 0.1, 0.1]))
    with pytest.raises(ValueError, match="two runs at least"):
        repeatability_of([[[white]]])
    with pytest.raises(ValueError, match="no patch above 1 cd/m2"):
        repeatability_of([[[dark], [dark]]])
    one = repeatability_of([[[white], [white]]])
    assert one.placement is None
    assert one.between_runs is not None
    assert np.max(np.abs(one.between_runs)) < 1e-20


def body(u_run: float, u_placement: float) -> dict[str, object]:
    both = (("between_runs", u_run), ("placement", u_placement))
    found: dict[str, object] = {key: [[u * u] * 3] * 3 for key, u in both}
    return {"repeatability": {**found, "between_runs_dof": 9, "placement_dof": 4}}


def test_it_moves_luminance_and_cancels_in_a_ratio() -> None:
    source = bench_source(body(0.002, 0.003))
    assert source is not None
    white = dict(source.vectors((95.0, 100.0, 109.0), "0 at centre"))
    black = dict(source.vectors((0.095, 0.1, 0.109), "0 at centre"))
    assert {one.name: one.dof for one in white} == {"between runs": 9.0, "placing 0 at centre": 4.0}
    assert math.sqrt(sum(change[1] ** 2 for change in white.values())) == pytest.approx(
        100.0 * math.hypot(0.002, 0.003)
    )
    assert sum((white[one][1] / 100.0 - black[one][1] / 0.1) ** 2 for one in white) < 1e-20
    assert not any(one.shared for one in white)  # another run is another run
    assert bench_source({}) is None


def test_what_was_found_takes_the_place_of_what_was_stated() -> None:
    light = measured("white", np.array([95.0, 100.0, 109.0]), 1e-8)
    stated = Metrology(MeterBudget("m", scale=0.01, placement=0.05))
    u = {}
    for name, source in (("stated", None), ("found", bench_source(body(0.0, 0.003)))):
        stated.bench = source
        stated.fit_noise([light])
        vectors = stated.vectors(light)
        assert vectors is not None
        u[name] = math.sqrt(sum(change[1] ** 2 for _, change in vectors))
    assert u["stated"] == pytest.approx(100.0 * math.hypot(0.01, 0.05), rel=1e-3)
    assert u["found"] == pytest.approx(100.0 * math.hypot(0.01, 0.003), rel=1e-3)
