"""The uncertainty of a correction reaches every figure that was read through it, and cancels where it is shared."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchd.analysis.meter_model.correction import corrected, fit
from benchd.analysis.meter_model.correction_source import correction_source, meter_of
from tests.analysis.test_correction import COLOURS, Light, pairs_of, rows, u_corrected


def head() -> tuple[dict[str, object], np.ndarray]:
    pairs = []
    for pair in pairs_of(rows()):
        lights = [
            Light(one.xyz, (*((0.002 * v) ** 2 / 5 for v in one.xyz), 0.0, 0.0, 0.0), 4)  # type: ignore[arg-type]
            for one in (pair.reference, pair.meter)
        ]
        pairs.append(pair._replace(reference=lights[0], meter=lights[1]))
    made = fit(pairs, "four-colour")
    u = u_corrected(made, (40.0, 60.0, 80.0))
    correction = {
        "name": "c",
        "digest": "ab" * 32,
        "matrix": made.matrix,
        "covariance": made.covariance,
        "dof": made.dof,
    }
    better = corrected(made.matrix, (40.0, 60.0, 80.0))
    return {"meter": {"model": "m"}, "correction": correction}, np.array([better, u])


def test_influences_add_up_to_the_propagated_covariance() -> None:
    body, (xyz, u) = head()
    source = correction_source(body)
    assert source is not None
    vectors = source.vectors((float(xyz[0]), float(xyz[1]), float(xyz[2])))
    assert len({one for one, _ in vectors}) == len(vectors) <= 9
    assert {(one.name, one.dof, one.shared) for one, _ in vectors} == {("correction c abababababab", 32.0, True)}
    total = np.sqrt(sum(np.array(change) ** 2 for _, change in vectors))
    assert total == pytest.approx(u, rel=1e-6)


def test_the_luminance_factor_cancels_in_a_ratio() -> None:
    """A grey of the same chromaticity as white moves with it, whatever the correction is off by."""
    source = correction_source(head()[0])
    assert source is not None
    white, grey = source.vectors((95.0, 100.0, 109.0)), source.vectors((9.5, 10.0, 10.9))
    left = sum((w[1] / 100.0 - g[1] / 10.0) ** 2 for (_, w), (_, g) in zip(white, grey, strict=True))
    assert math.sqrt(left) < 1e-12
    assert len(COLOURS) == 4


def test_without_a_covariance_nothing_is_claimed() -> None:
    assert correction_source({}) is None
    assert correction_source({"correction": {"name": "c", "covariance": None}}) is None


def test_the_meter_of_results_names_its_correction() -> None:
    found = meter_of(head()[0])
    assert found["correction"]["name"] == "c"
    assert "covariance" not in found["correction"]
    assert meter_of({"meter": {"model": "m"}}) == {"model": "m"}
