"""Full-screen white and black: step data -> result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_light import MeterRange, chromaticities, luminance_of
from benchd.measurements.luminance.results import Luminance

METHOD = (
    "mean of the readings at the screen's centre, full screen white and black; method after IDMS, chapter 5 "
    "(from memory)"
)


def luminance(
    log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None
) -> Luminance:
    """Luminance of white and black of one luminance block, and the chromaticity of its white."""
    name = str(block["name"])
    steps = {measured.labels.get("level"): measured for measured in log_data.of_block(name)}
    lacking = [level for level in ("white", "black") if level not in steps]
    white = luminance_of(steps.get("white"), meter)
    return Luminance(
        block=name,
        method=METHOD,
        white=white,
        black=luminance_of(steps.get("black"), meter),
        white_chromaticity=chromaticities([steps.get("white")], [white])[0],
        missing=f"{' and '.join(lacking)} not measured" if lacking else "",
    )


PART = luminance
