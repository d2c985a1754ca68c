"""A corrected meter is as sure in scale and colour as its reference meter, and as itself in everything else."""

from __future__ import annotations

from typing import Any

from benchd.analysis.meter_model.correction_source import budgets_from

OWN: dict[str, Any] = {
    "k": 2,
    "calibration_percent": 4,
    "chromaticity_xy": 0.008,
    "linearity_percent": 0.4,
    "zero_cd_m2": 0.001,
    "drift_percent_per_year": 1,
    "placement_percent": 0.3,
}
LENT: dict[str, Any] = {
    "k": 2,
    "calibration_percent": 1.2,
    "chromaticity_xy": 0.002,
    "linearity_percent": 0.2,
    "calibrated": "2026-01-01",
}
NOW = "2026-09-01T10:00:00.000Z"


def head(lent: Any = LENT, factor: float = 1.01) -> dict[str, Any]:
    correction = {
        "reference_meter": {"model": "HERON", "serial_number": "H-1"},
        "reference_uncertainty": lent,
        "luminance_factor": factor,
        "made": "2026-07-01",
    }
    meter = {"model": "LAPWING", "serial_number": "L-7", "calibrated": "2024-09-01"}
    return {"uncertainty": OWN, "meter": meter, "correction": correction}


def test_scale_and_colour_come_from_the_reference_meter() -> None:
    own, reference = budgets_from(head(), NOW)
    assert own is not None
    assert reference is not None
    assert (own.scale, own.colour_x, own.linearity, own.zero_cd_m2, own.placement) == (0.0, 0.0, 0.002, 0.0005, 0.0015)
    assert 0.16 < own.years < 0.18  # from the day of the correction, not from its calibration
    assert own.meter == "meter LAPWING L-7, calibrated 2024-09-01"
    assert (reference.scale, reference.colour_x, reference.linearity, reference.placement) == (0.006, 0.001, 0.0, 0.0)
    # The name that a log of the reference meter itself gives, so that they cancel.
    assert reference.meter == "meter HERON H-1, calibrated 2026-01-01"
    assert 0.49 < reference.years < 0.51  # its drift stopped to matter on the day of the correction


def test_luminance_that_is_left_alone_keeps_its_own_scale() -> None:
    own, reference = budgets_from(head(factor=1.0), NOW)
    assert own is not None
    assert reference is not None
    assert (own.scale, own.colour_x) == (0.02, 0.0)
    assert (reference.scale, reference.colour_x) == (0.0, 0.001)


def test_without_a_statement_of_the_reference_nothing_changes() -> None:
    own, reference = budgets_from(head(None), NOW)
    assert own is not None
    assert (own.scale, own.colour_x) == (0.02, 0.004)
    assert reference is None
    assert budgets_from({}, NOW) == (None, None)
