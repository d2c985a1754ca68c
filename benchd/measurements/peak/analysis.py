"""Peak luminance over the size of a window: step data -> result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.colour.target import Target
from benchd.analysis.light.windows import requested_by, windows_of
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange
from benchd.analysis.uncertainty.quantity import absent, maximum, ratio
from benchd.measurements.peak.results import Peak

MOMENTS_S = (1.0, 10.0, 30.0, 60.0)

METHOD = (
    "a bright window in the middle of black, after black alone, read from the moment it appeared; peak: highest mean "
    "of one second in the first ten (of noisy readings a little high, which its uncertainty holds); how fast the light "
    "changed in that second is its trend, no part of the standard deviation of the readings, and makes a frame more or "
    "less count; sizes are common practice"
)


def peak(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None) -> Peak:
    """Every size of one block that was measured."""
    windows, missing = windows_of(log_data, block, meter, MOMENTS_S)
    best = absent(LUMINANCE_UNIT, missing) if missing else maximum([one.peak for one in windows], LUMINANCE_UNIT)
    at = next((one for one in windows if one.peak.value == best.value and best.present), None)
    full = next((one for one in windows if one.area_percent >= 100.0), None)
    return Peak(
        block=str(block["name"]),
        method=METHOD,
        code=int(block["code"]),
        bits=int(block["bits"]),
        requested_cd_m2=requested_by(block),
        black_s=float(block["black_s"]),
        windows=tuple(windows),
        maximum=best,
        maximum_area_percent=None if at is None else at.area_percent,
        full_over_maximum=absent("1", "the full screen was not measured") if full is None else ratio(full.peak, best),
        missing=missing,
    )


PART = peak
