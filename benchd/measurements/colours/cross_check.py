"""Colours of a list computed again with an independent library: targets and differences under each white."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from benchd.analysis.colour import reference_library as reference
from benchd.analysis.colour.target import target_from
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.analysis.results import Results
from benchd.analysis.verdicts.cross_check import Again, Found, Kind, averaged, black_of, rows_of, xyz_of
from benchd.measurements.colours.results import Colours


def cross_check(result: Colours, block: Mapping[str, Any], results: Results, log: LogData) -> Found:
    """Colours against what their codes request, under each white, aim and formula."""
    white = xyz_of(result.white_x)
    if white is None or not result.patches:
        return
    space, aims = target_from(block["space"]), {str(one["name"]): one["aim"] for one in block["patches"]}
    signals = np.array([one.code for one in result.patches]) / ((1 << int(block.get("bits", 8))) - 1)
    linear = reference.curve(space, signals, white[1], _read_black(result.block, log)) / white[1]
    shown = reference.rgb_to_xyz(space, linear)
    unclamped = np.where(
        np.array([one.outside for one in result.patches])[:, None],
        np.array([aims[one.name] for one in result.patches], dtype=np.float64),
        shown,
    )
    main, other = (unclamped, shown) if result.aim == "target_unclamped" else (shown, unclamped)
    xyz = rows_of(one.x for one in result.patches)
    level, adaptation = results.target.luminance_cd_m2 if results.target else None, str(block["adaptation"])
    found: list[Again] = []

    def difference(name: str, goals: Any, convention: str, formula: int = 2000) -> None:
        if convention == "absolute" and (level is None or result.primary != "absolute"):
            return
        goal, sample = labs_of(goals, xyz, np.array(white), space.white, convention, level, adaptation)
        kind: Kind = "CIE 1976" if formula == 76 else "CIE 1994" if formula == 94 else "CIEDE2000"
        if convention == "white_measured" and formula == 2000:
            kind = "CIEDE2000, adapted"
        for one, value in zip(result.patches, reference.delta_e(goal, sample, formula), strict=True):
            for figure in (getattr(one, name), one.error.total if name == result.primary else None):
                if figure is not None:
                    found.append(Again(kind, figure, float(value)))

    for convention in ("white_luminance", "white_measured", "absolute"):
        difference(convention, main, convention)
    difference("other_aim", other, result.primary)
    for formula in (76, 94):
        difference(f"cie{formula}", main, result.primary, formula)
    yield from found
    kinds = {id(again.figure): again.kind for again in found}
    for average in result.accuracy:
        over = (average.mean, average.median, average.percentile_95, average.maximum)
        parts = [figure for patch in result.patches if (figure := getattr(patch, average.name)) is not None]
        kind = next((kinds[id(figure)] for figure in parts if id(figure) in kinds), None)
        if kind is not None:
            yield from averaged(kind, parts, over, found)
    for one, goal in zip(result.patches, main, strict=True):
        yield Again("target colour", one.target_luminance, float(goal[1] * white[1]))
        for name, value, again in zip("xy", (one.target_x, one.target_y), reference.xy(goal), strict=True):
            if value is not None:
                yield Again("target colour", (f"{result.block}/{one.name}/target_{name}", value), float(again))


def labs_of(
    goals: Any, samples: Any, white: Any, point: tuple[float, float], convention: str, level: float | None, method: str
) -> tuple[Any, Any]:
    """L*, a*, b* of goals (white has Y = 1) and of samples (cd/m2) under one convention of white."""
    if convention == "white_measured":
        seen = reference.adapted(goals, reference.xyz_of(point), white, method)
        return reference.lab(seen, white), reference.lab(samples, white)
    scale = white[1] if convention == "white_luminance" else level
    lab_white = reference.xyz_of(point) * scale
    return reference.lab(goals * scale, lab_white), reference.lab(samples, lab_white)


def _read_black(name: str, log: LogData) -> float | None:
    """The black that a list of colours read for its curve."""
    head = log.started.body if log.started else {}
    read = next((one for one in log.of_block(name) if one.labels.get("name") == "reference-black"), None)
    return None if read is None else black_of(luminance_of(read, MeterRange.of(head.get("meter") or {})))


PART = cross_check
