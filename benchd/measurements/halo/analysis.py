"""Black beside bright: how far the light of a bright window reaches into black, and what follows for the backlight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import few, not_measured
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import LUMINANCE_UNIT, MeterRange, luminance_of
from benchd.analysis.uncertainty.quantity import Quantity, absent, ratio
from benchd.measurements.halo.results import Halo, HaloBoard, HaloDistance

METHOD = (
    "the meter stays in black at the screen's middle while a bright window stands at set distances from it; contrast: "
    "the same window in front of the meter over that black; boards: both polarities at their middle cell; glare inside "
    "the meter is not corrected and reads as halo"
)

RISES = 1.5
"""Blacks this far apart (as a ratio) are another light, not noise or veiling glare (common practice)."""
REACH = 2.0


def halo(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None) -> Halo:
    """One block of black beside bright."""
    name = str(block["name"])
    steps = list(log_data.of_block(name))
    by_part: dict[str, list[StepData]] = {}
    for step in steps:
        by_part.setdefault(str(step.labels["part"]), []).append(step)
    window = luminance_of(next(iter(by_part.get("window", ())), None), meter)
    # "black" is also the part of a board's dark cell, whose labels have its cells.
    plain = next((one for one in by_part.get("black", ()) if "cells" not in one.labels), None)
    black = luminance_of(plain, meter)
    wanted = [(str(side), float(distance)) for side in block["sides"] for distance in block["distances_percent"]]
    found = {
        (str(one.labels["side"]), float(one.labels["distance_percent"])): luminance_of(one, meter)
        for one in by_part.get("beside", ())
    }
    beside = tuple(
        HaloDistance(side, distance, light, ratio(window, light), ratio(light, black))
        for side, distance in wanted
        if (light := found.get((side, distance))) is not None
    )
    boards = tuple(_board(int(cells), steps, meter) for cells in block["boards"])
    lacking = [f"{distance:g} % {side}" for side, distance in wanted if (side, distance) not in found]
    lacking += [what for what, light in (("window", window), ("black", black)) if not light.n and not light.present]
    near_over_far, reach = _reach(beside)
    if lacking:
        near_over_far, reach = absent("1", not_measured(lacking, "patch", "patches")), None
    lacking += [f"board {one.cells} x {one.cells}" for one in boards if not (one.white.present and one.black.present)]
    return Halo(
        block=name,
        method=METHOD,
        code=int(block["code"]),
        bits=int(block["bits"]),
        area_percent=float(block["area_percent"]),
        window=window,
        black=black,
        sequential=ratio(window, black),
        beside=beside,
        boards=boards,
        near_over_far=near_over_far,
        reach_percent=reach,
        behaviour=_behaviour(beside, black, near_over_far),
        missing=not_measured(few(lacking), "patch", "patches"),
    )


def _board(cells: int, steps: Sequence[StepData], meter: MeterRange) -> HaloBoard:
    lights = {
        str(one.labels["part"]): luminance_of(one, meter) for one in steps if one.labels.get("cells") == cells
    }  # fmt: skip
    nothing = absent(LUMINANCE_UNIT, "it was not measured")
    white, black = lights.get("white", nothing), lights.get("black", nothing)
    return HaloBoard(cells, 50.0 / cells, white, black, ratio(white, black))


def _reach(beside: Sequence[HaloDistance]) -> tuple[Quantity, float | None]:
    """Black with the window nearest over black with it farthest; the largest distance with twice the latter."""
    if len(beside) < 2:
        return absent("1", "it needs two distances"), None
    nearest = min(beside, key=lambda one: one.distance_percent)
    far = max(beside, key=lambda one: one.distance_percent).black
    within = [
        one.distance_percent
        for one in beside
        if one.black.plain
        and far.value is not None
        and far.bound != "above"
        and (one.black.value or 0.0) >= REACH * far.value
    ]
    return ratio(nearest.black, far), max(within, default=None)


BELOW_ALL = "black stays below the lower limit of the meter, wherever the window is"


def _behaviour(beside: Sequence[HaloDistance], black: Quantity, near_over_far: Quantity) -> str:
    """In words: what follows from the blacks, and no more."""
    if beside and all(one.bound == "below" for one in (black, *(at.black for at in beside))):
        return BELOW_ALL
    if near_over_far.value is None:
        return f"not known: {near_over_far.why}"
    far = max(beside, key=lambda one: one.distance_percent).black
    if near_over_far.bound == "below" or (black.bound is not None and far.bound is not None):
        return BELOW_ALL
    if near_over_far.value >= RISES:
        return "black rises towards the window: dimming zones that reach over, or glare in panel or meter"
    if far.plain and black.value is not None and black.bound != "above" and (far.value or 0.0) >= RISES * black.value:
        return "black rises as soon as anything is lit, however far away: the whole backlight is dimmed as one"
    return "black is the same wherever the window is: no dimming by zones"


PART = halo
