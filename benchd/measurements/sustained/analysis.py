"""What is left of a bright window after minutes: step data -> result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.colour.target import Target
from benchd.analysis.light.windows import requested_by, windows_of
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_light import MeterRange
from benchd.measurements.sustained.results import Sustained

MOMENTS_S = (60.0, 300.0, 600.0, 1800.0)

METHOD = (
    "a bright window in the middle of black, after black alone, read for minutes; shares are of the best second of the "
    "first ten; how fast the light changes while it is read is no "
    "part of the standard deviation of the readings"
)


def sustained(
    log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None
) -> Sustained:
    """Every size of one block that was measured."""
    windows, missing = windows_of(log_data, block, meter, MOMENTS_S)
    return Sustained(
        block=str(block["name"]),
        method=METHOD,
        code=int(block["code"]),
        bits=int(block["bits"]),
        requested_cd_m2=requested_by(block),
        black_s=float(block["black_s"]),
        minutes=float(block["for_s"]) / 60.0,
        windows=tuple(windows),
        missing=missing,
    )


PART = sustained
