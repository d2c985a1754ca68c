"""What one meter has read of several colours, as corrections are made of it: means with the covariance of the mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from benchd.analysis.colour.colorimetry import Array
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_data import StepData
from benchd.analysis.meter_model.correction import Light, Placement
from benchd.analysis.uncertainty.sources import Triple, full, six

CENTRE = (0.5, 0.5)


def light_of_readings(readings: Sequence[Triple]) -> Light:
    """From single readings of X, Y, Z in cd/m2; one alone has no covariance."""
    values = np.array(readings, dtype=float)
    n = len(readings)
    x, y, z = (float(one) for one in values.mean(axis=0))
    if n < 2:
        return Light((x, y, z))
    return Light((x, y, z), six((np.cov(values.T) / n).tolist()), n - 1)


def lights_of(log_data: LogData, *, uncorrected: bool = False) -> dict[str, Light]:
    """Full-screen colours at the centre, by name: R, G, B, W by their codes, others as the plan calls them.

    ``uncorrected``: as the meter itself read them, where the log was read through a correction. What the meter called
    under or over its range is left out, and so is black.
    """
    back = np.eye(3)
    correction: Mapping[str, Any] | None = log_data.started.body.get("correction") if log_data.started else None
    if uncorrected and correction:
        back = np.linalg.inv(np.array(correction["matrix"], dtype=float))
    found: dict[str, Light] = {}
    for measured in log_data.measured.values():
        name = _name(measured)
        if name and name not in found and measured.mean is not None and not (measured.under or measured.over):
            found[name] = _light(measured, back)
    return found


def placement_of(head: Mapping[str, Any]) -> Placement | None:
    """How sure the meter of a log stands: as its bench measured it by repetition, else as its bench states it."""
    measured = (head.get("repeatability") or {}).get("placement")
    if measured:
        return Placement(np.array(measured, dtype=float), float(head["repeatability"].get("placement_dof") or 1))
    stated = head.get("uncertainty")
    if not stated:
        return None
    u = float(stated.get("placement_percent") or 0.0) / 100.0 / float(stated.get("k") or 2.0)
    return Placement(np.full((3, 3), u * u))


def _name(measured: StepData) -> str:
    """Empty for what is no colour of its own: black, places away from the centre, warm-up and reference patches."""
    top = (1 << measured.bits) - 1
    if measured.at != CENTRE or measured.code == (0, 0, 0) or not measured.block:
        return ""
    primary = {(top, 0, 0): "R", (0, top, 0): "G", (0, 0, top): "B", (top, top, top): "W"}.get(measured.code)
    return primary or str(measured.labels.get("name") or "code " + " ".join(map(str, measured.code)))


def _light(measured: StepData, turn: Array) -> Light:
    assert measured.mean is not None
    x, y, z = (float(one) for one in turn @ np.array(measured.mean))
    if measured.covariance is None:
        return Light((x, y, z))
    of_mean = turn @ (np.array(full(measured.covariance)) / measured.figures) @ turn.T
    return Light((x, y, z), six(of_mean.tolist()), measured.figures - 1)
