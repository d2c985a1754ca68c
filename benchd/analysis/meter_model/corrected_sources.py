"""What is stated of the meters behind a corrected reading.

A corrected meter reads as the reference meter did, so its scale and its colour are as sure as the reference's: they
come from what was stated of that one, under its name, so that they cancel between logs that go back to it. The
corrected meter's own linearity, zero and placement stay, and its drift counts from the day of the correction. How both
meters stood when the correction was made is part of the correction (`correction_source`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.meter_model.spectral import spectral_of, takes_luminance, technology_of
from benchd.analysis.meter_model.stated_sources import MeterBudget, budget_from

OWN_ONLY = {"linearity_percent": 0.0, "zero_cd_m2": 0.0, "placement_percent": 0.0}
"""What a reference meter does not hand on."""


def budgets_from(head: Mapping[str, Any], started_wall: str) -> tuple[MeterBudget | None, MeterBudget | None]:
    """Budget of the meter that was read, and of the reference meter of its correction.

    The second is None without a correction, and where nothing was stated of the reference meter: then all is as the
    bench states it of the meter itself.
    """
    correction = head.get("correction")
    technology = technology_of(head)
    light = spectral_of(technology, correction, head.get("uncertainty")).light
    own = budget_from(head, started_wall, light)
    handed_on = correction.get("reference_uncertainty") if isinstance(correction, Mapping) else None
    if not isinstance(correction, Mapping) or not isinstance(handed_on, Mapping):
        return own, None
    lent: dict[str, Any] = {**handed_on, **OWN_ONLY}
    if own is not None:
        stated: dict[str, Any] = {**head["uncertainty"], "chromaticity_xy": 0.0}
        if not takes_luminance(correction):
            # Luminance is left as the meter reads it, so its scale is its own.
            lent |= {"calibration_percent": 0.0, "drift_percent_per_year": 0.0}
        else:
            stated |= {"calibration_percent": 0.0, "calibrated": correction["made"]}
        renamed = budget_from({**head, "uncertainty": stated}, started_wall, light)
        own = renamed._replace(meter=own.meter) if renamed is not None else None
    light = spectral_of(technology, correction, handed_on, corrected=False).light
    lent_head = {"uncertainty": lent, "meter": correction["reference_meter"]}
    return own, budget_from(lent_head, str(correction["made"]), light)
