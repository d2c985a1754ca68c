"""Contrast: white over black, one after the other on the full screen, or side by side in a checkerboard."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import cells_not_measured
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, chromaticities, luminance_of
from benchd.analysis.uncertainty.quantity import Quantity, absent, mean, ratio, with_note
from benchd.measurements.contrast.results import CheckerboardContrast, Contrast, Polarity, SequentialContrast

SEQUENTIAL_METHOD = (
    "full-screen white over full-screen black at the screen's centre; method after IDMS, sequential contrast "
    "(from memory)"
)
CHECKERBOARD_METHOD = (
    "mean of the white cells over mean of the black cells of one pattern, read at the centre of every cell, "
    "both polarities; method after ANSI/INFOCOMM 3M-2011 (16 zones); veiling glare of the meter not corrected"
)


DARKER = "white reads darker than black; were the two exchanged?"


def contrast(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None) -> Contrast:
    """The kinds of contrast that the plan chose for one block."""
    name, kinds = str(block["name"]), block.get("kinds", ())
    steps = list(log_data.of_block(name))
    return Contrast(
        block=name,
        sequential=_sequential(steps, meter, swept="settings" in block) if "sequential" in kinds else None,
        checkerboard=_checkerboard(steps, block, meter) if "checkerboard" in kinds else None,
    )


def _sequential(steps: list[StepData], meter: MeterRange, *, swept: bool) -> SequentialContrast:
    found = {one.labels.get("level"): one for one in steps if one.labels.get("kind") == "sequential"}
    lacking = [level for level in ("white", "black") if level not in found]
    missing = f"{' and '.join(lacking)} not measured" if lacking else ""
    white = luminance_of(found.get("white"), meter)
    black = luminance_of(found.get("black"), meter)
    result = _over(white, black)
    if missing:
        result = absent("1", missing, result.records)
    return SequentialContrast(
        method=SEQUENTIAL_METHOD,
        white=white,
        black=black,
        ratio=result,
        missing=missing,
        white_chromaticity=chromaticities([found.get("white")], [white])[0] if swept else None,
    )


def _over(white: Quantity, black: Quantity) -> Quantity:
    """The contrast, with a note where white is the darker."""
    found = ratio(white, black)
    return with_note(found, DARKER) if found.plain and found.value is not None and found.value < 1.0 else found


def _checkerboard(steps: list[StepData], block: Mapping[str, Any], meter: MeterRange) -> CheckerboardContrast:
    columns, rows = int(block.get("columns", 4)), int(block.get("rows", 4))
    cells = [one for one in steps if one.labels.get("kind") == "checkerboard"]
    normal = _polarity("normal", cells, columns, rows, meter)
    inverse = _polarity("inverse", cells, columns, rows, meter)
    return CheckerboardContrast(
        method=CHECKERBOARD_METHOD,
        columns=columns,
        rows=rows,
        normal=normal,
        inverse=inverse,
        ratio=mean((normal.ratio, inverse.ratio), "1"),
    )


def _polarity(
    name: Literal["normal", "inverse"], cells: list[StepData], columns: int, rows: int, meter: MeterRange
) -> Polarity:
    found = {
        (int(one.labels["row"]), int(one.labels["column"])): one for one in cells if one.labels.get("polarity") == name
    }
    missing = cells_not_measured(found, rows, columns)
    if missing:
        why = f"checkerboard, {name}: {missing}"
        nothing = absent(LUMINANCE_UNIT, why)
        return Polarity(name, nothing, nothing, absent("1", why), missing)
    levels: dict[str, list[Quantity]] = {"white": [], "black": []}
    for one in found.values():
        levels[one.labels["level"]].append(luminance_of(one, meter))
    white, black = mean(levels["white"], LUMINANCE_UNIT), mean(levels["black"], LUMINANCE_UNIT)
    return Polarity(name, white, black, _over(white, black), missing)


PART = contrast
