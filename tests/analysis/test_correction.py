"""A meter's correction: the published method, residuals, and the uncertainty of the matrix."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.correction import (
    COLOURS,
    Light,
    Pair,
    corrected,
    fit,
    four_colour_matrix,
    influences,
    least_squares_matrix,
    primary_matrix,
    u_corrected,
    xyz_from,
)
from benchd.errors import InputError

REFERENCE = Path(__file__).parents[1] / "reference" / "four_colour_example.csv"

# Method after Ohno and Hardis (1997), Proc. IS&T Fifth Color Imaging Conf. 301-305; numbers of a worked example that
# was solved apart from this code in double and in 40-digit arithmetic. Tolerances stand in the file.


def rows() -> dict[tuple[str, str], list[float]]:
    lines = [line for line in REFERENCE.read_text().splitlines() if not line.startswith("#")]
    return {
        (row["section"], row["name"]): [float(row[key]) for key in ("c1", "c2", "c3") if row[key]]
        for row in csv.DictReader(lines)
    }


def pairs_of(found: dict[tuple[str, str], list[float]]) -> list[Pair]:
    return [
        Pair(
            name,
            Light(xyz_from(*found["reference_xyY", name])),  # type: ignore[arg-type]
            Light(xyz_from(*found["meter_xyY", name])),  # type: ignore[arg-type]
        )
        for name in COLOURS
    ]


def matrix_of(found: dict[tuple[str, str], list[float]], section: str) -> np.ndarray:
    return np.array([found[section, f"row{row}"] for row in (1, 2, 3)])


def test_the_worked_example_to_its_digits() -> None:
    found = rows()
    for side in ("reference", "meter"):
        xy = np.array([found[f"{side}_xyY", name][:2] for name in COLOURS])
        primaries, k = primary_matrix(xy)
        assert k == pytest.approx(np.array(found[f"k_{side}", "R_G_B"]), abs=1e-6)
        assert k.sum() == pytest.approx(1.0, abs=1e-12)
        assert primaries == pytest.approx(matrix_of(found, f"P_{side}"), abs=1e-6)
    made = fit(pairs_of(found), "four-colour")
    assert np.array(made.chromaticity) == pytest.approx(matrix_of(found, "R_chromaticity_only"), abs=1e-6)
    assert np.array(made.matrix) == pytest.approx(matrix_of(found, "R_with_luminance_factor"), abs=1e-6)
    assert made.luminance_factor == pytest.approx(found["luminance_factor", "kY"][0], abs=1e-6)
    for name in (*COLOURS, "mix"):
        x, y, luminance = found["meter_xyY", name]
        xyz = corrected(made.matrix, xyz_from(x, y, luminance))
        wanted = found["corrected_xyY", name]
        assert (xyz[0] / sum(xyz), xyz[1] / sum(xyz)) == pytest.approx(wanted[:2], abs=2e-6)
        assert xyz[1] == pytest.approx(wanted[2], abs=5e-4)


def test_without_the_luminance_factor() -> None:
    found = rows()
    made = fit(pairs_of(found), "four-colour", luminance=False)
    assert made.matrix == made.chromaticity
    assert made.luminance_factor == 1.0


def test_luminance_errors_enter_least_squares_and_not_the_four_colour_matrix() -> None:
    # the worked example with 1, 2 and 3 % on red, green and blue of the reference sitting
    found = rows()
    swung = {"R": 1.01, "G": 0.98, "B": 1.03, "W": 1.0}
    pairs = [
        pair._replace(reference=Light(tuple(swung[pair.name] * v for v in pair.reference.xyz)))  # type: ignore[arg-type]
        for pair in pairs_of(found)
    ]
    raw = xyz_from(*found["meter_xyY", "mix"])  # type: ignore[arg-type]
    steady = corrected(fit(pairs_of(found), "four-colour").matrix, raw)
    four = corrected(fit(pairs, "four-colour").matrix, raw)
    least = corrected(fit(pairs, "least-squares").matrix, raw)
    assert four == pytest.approx(steady, rel=1e-9)
    assert abs(least[0] / sum(least) - steady[0] / sum(steady)) > 3e-4


@settings(derandomize=True, max_examples=80, deadline=None)
@given(st.lists(st.floats(-0.05, 0.05), min_size=9, max_size=9), st.lists(st.floats(0.5, 2.0), min_size=4, max_size=4))
def test_a_linear_error_of_the_meter_is_undone(errors: list[float], swing: list[float]) -> None:
    """Whatever the linear error, and for the four-colour method whatever the luminance of each sitting."""
    wrong = np.eye(3) + np.array(errors).reshape(3, 3)
    found = rows()
    truth = {name: np.array(xyz_from(*found["reference_xyY", name])) for name in "RGB"}  # type: ignore[arg-type]
    truth["W"] = truth["R"] + truth["G"] + truth["B"]
    pairs = [
        Pair(name, Light(tuple(truth[name])), Light(tuple(factor * wrong @ truth[name])))  # type: ignore[arg-type]
        for name, factor in zip(COLOURS, swing, strict=True)
    ]
    made = fit(pairs, "four-colour")
    scale = made.matrix @ wrong
    assert np.asarray(scale) / scale[1][1] == pytest.approx(np.eye(3), abs=1e-7)
    steady = [pair._replace(meter=Light(tuple(wrong @ truth[pair.name]))) for pair in pairs]  # type: ignore[arg-type]
    assert np.asarray(fit(steady, "least-squares").matrix) @ wrong == pytest.approx(np.eye(3), abs=1e-7)
    assert all(
        abs(one.luminance_percent) < 1e-6 and one.delta_uv < 1e-7 for one in fit(steady, "four-colour").residuals
    )


def test_least_squares_agrees_with_the_normal_equations() -> None:
    # R = N_r N_m^T (N_m N_m^T)^-1, the form that ASTM E1455 gives (from memory)
    rng = np.random.default_rng(3)
    reference, meter = rng.uniform(1, 100, (7, 3)), rng.uniform(1, 100, (7, 3))
    nr, nm = reference.T, meter.T
    assert least_squares_matrix(reference, meter) == pytest.approx(nr @ nm.T @ np.linalg.inv(nm @ nm.T), rel=1e-9)


@pytest.mark.parametrize("method", ["four-colour", "least-squares"])
@pytest.mark.parametrize("luminance", [True, False])
def test_the_covariance_of_the_matrix_against_simulation(method: str, luminance: bool) -> None:
    """First-order propagation against drawn readings (JCGM 101): the same scatter of the matrix within 8 %."""
    found, rng, n, noise = rows(), np.random.default_rng(4), 5, 0.002

    def light(xyz: tuple[float, ...], draws: np.ndarray | None) -> Light:
        variance = [(noise * value) ** 2 / n for value in xyz]
        moved = (
            xyz if draws is None else tuple(v + d * math.sqrt(s) for v, d, s in zip(xyz, draws, variance, strict=True))
        )
        return Light(moved, (*variance, 0.0, 0.0, 0.0), n - 1)  # type: ignore[arg-type]

    def draw(random: bool) -> list[Pair]:
        return [
            Pair(
                pair.name,
                light(pair.reference.xyz, rng.normal(size=3) if random else None),
                light(pair.meter.xyz, rng.normal(size=3) if random else None),
            )
            for pair in pairs_of(found)
        ]

    made = fit(draw(False), method, luminance=luminance)  # type: ignore[arg-type]
    assert made.covariance is not None
    assert made.dof == 8 * (n - 1)
    solved = []
    for _ in range(1500):
        noisy = draw(True)
        # Without its covariance a reading is only solved with.
        bare = [pair._replace(reference=Light(pair.reference.xyz)) for pair in noisy]
        found_now = fit(bare, method, luminance=luminance)  # type: ignore[arg-type]
        solved.append(np.array(found_now.matrix).ravel())
    drawn = np.std(solved, axis=0)
    assert np.sqrt(np.diag(np.array(made.covariance))) == pytest.approx(drawn, rel=0.08)
    # The influences are the same covariance, and carry it to a corrected reading.
    raw = xyz_from(*found["meter_xyY", "mix"])  # type: ignore[arg-type]
    better = np.array(corrected(made.matrix, raw))
    by_influence = sum((np.array(one) @ better) ** 2 for one in influences(made.covariance, made.matrix))
    assert np.sqrt(by_influence) == pytest.approx(np.array(u_corrected(made, raw)), rel=1e-6)
    assert np.std([one.reshape(3, 3) @ raw for one in solved], axis=0) == pytest.approx(
        u_corrected(made, raw), rel=0.08
    )


def test_without_scatter_no_uncertainty_is_stated() -> None:
    made = fit(pairs_of(rows()), "four-colour")
    assert made.covariance is None
    assert u_corrected(made, (1.0, 1.0, 1.0)) is None


def test_what_makes_no_matrix_is_refused_in_a_sentence() -> None:
    pairs = pairs_of(rows())
    with pytest.raises(InputError, match="missing here: B"):
        fit([pair for pair in pairs if pair.name != "B"], "four-colour")
    with pytest.raises(InputError, match="three colours at least"):
        fit(pairs[:2], "least-squares")
    with pytest.raises(InputError, match="too alike"):
        fit([pair._replace(meter=pairs[0].meter) for pair in pairs], "four-colour")
    with pytest.raises(InputError, match="reading of G is not above zero"):
        fit([*pairs[:1], pairs[1]._replace(meter=Light((0.0, 0.0, 0.0))), *pairs[2:]], "four-colour")


def test_chromaticities_alone_decide_the_four_colour_matrix() -> None:
    found = rows()
    xy = [np.array([found[f"{side}_xyY", name][:2] for name in COLOURS]) for side in ("reference", "meter")]
    assert four_colour_matrix(*xy) == pytest.approx(matrix_of(found, "R_chromaticity_only"), abs=1e-6)
