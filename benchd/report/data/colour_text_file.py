"""What was measured, patch by patch, as a table of the open text format for colour data (method after ISO 28178).

A set for every step: its name, the code that was shown, and the mean X, Y, Z of its readings in cd/m2 with their
standard deviations. These are the readings as the meter gave them: nothing is compensated or judged. A step whose
light is only a bound or absent has no figure to give and is named in a keyword instead.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from benchd import __version__
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.luminance_only import is_luminance_alone
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.profile.reading.colour_data_text import Cell, ColourTable
from benchd.report.words import SIMULATED

RGB = ("RGB_R", "RGB_G", "RGB_B")
XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
DEVIATIONS = ("STDEV_X", "STDEV_Y", "STDEV_Z")
FIELDS = ("SAMPLE_ID", "SAMPLE_NAME", *RGB, *XYZ, *DEVIATIONS)
XYZ_UNIT, UNIT = "BENCHD_XYZ_UNIT", "cd/m2"


def colour_table(log_data: LogData, sha256: str) -> ColourTable:
    """The table of one log; ``sha256`` is the digest of its bytes.."""
    head: Mapping[str, Any] = log_data.started.body if log_data.started else {}
    meter = MeterRange.of(head.get("meter") or {})
    rows: list[tuple[Cell, ...]] = []
    without: list[str] = []
    spread = all(measured.covariance is not None for measured in log_data.measured.values())
    for measured in log_data.measured.values():
        light = luminance_of(measured, meter)
        if measured.mean is None or is_luminance_alone(measured.mean) or not light.plain:
            without.append(measured.step)
            continue
        cells: list[Cell] = [str(len(rows) + 1), measured.step, *map(float, measured.code), *measured.mean]
        if spread and measured.covariance is not None:
            cells += [math.sqrt(variance) for variance in measured.covariance[:3]]
        rows.append(tuple(cells))
    fields = FIELDS if spread else FIELDS[: -len(DEVIATIONS)]
    return ColourTable(_keywords(log_data, head, sha256, without), fields, tuple(rows))


def _keywords(
    log_data: LogData, head: Mapping[str, Any], sha256: str, without: list[str]
) -> tuple[tuple[str, str], ...]:
    meter = head.get("meter") or {}
    bits = (head.get("settings") or {}).get("bits", 8)
    imported = (head.get("imported") or {}).get("file", "")
    words = {
        "ORIGINATOR": f"benchd {__version__}",
        "FILE_DESCRIPTOR": f"{SIMULATED} " * log_data.simulated + "luminance and colour of a display, patch by patch",
        "CREATED": log_data.started.wall if log_data.started else "",
        "INSTRUMENTATION": f"{meter.get('model', '')} {meter.get('serial_number', '')}".strip(),
        "SERIAL": str(head.get("sample") or ""),
        XYZ_UNIT: UNIT,
        "BENCHD_OBSERVER": "CIE 1931, 2 degrees",
        "BENCHD_RGB_BITS": str(bits),
        "BENCHD_PLAN": str((head.get("plan") or {}).get("name", "")),
        "BENCHD_NOTE": str(head.get("note") or ""),
        "BENCHD_NOTICE": SIMULATED if log_data.simulated else "",
        "BENCHD_IMPORTED_FROM": str(imported),
        "BENCHD_LOG_SHA256": sha256,
        "BENCHD_WITHOUT_FIGURES": " ".join(without),
    }
    return tuple((name, text) for name, text in words.items() if text)
