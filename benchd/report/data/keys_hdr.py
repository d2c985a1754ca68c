"""Names of the items in HDR results, where a collection becomes an object."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchd.analysis.results_hdr import (
    ColourLevels,
    Halo,
    HaloBoard,
    HaloDistance,
    LevelColour,
    Moment,
    Peak,
    PeakWindow,
    Sustained,
    ToneCurve,
)


def _of_window(one: PeakWindow) -> str:
    return f"{one.area_percent:g}-percent"


def _of_moment(one: Moment) -> str:
    return f"{one.after_s:g}-s"


def _of_distance(one: HaloDistance) -> str:
    return f"{one.side}-{one.distance_percent:g}"


def _of_board(one: HaloBoard) -> str:
    return f"board-{one.cells}"


def _of_colour(one: LevelColour) -> str:
    return f"{one.hue}-{one.level_cd_m2:g}"


KEYED_HDR: dict[tuple[type, str], Callable[[Any], str]] = {
    (Peak, "windows"): _of_window,
    (Sustained, "windows"): _of_window,
    (PeakWindow, "moments"): _of_moment,
    (Halo, "beside"): _of_distance,
    (Halo, "boards"): _of_board,
    (ColourLevels, "colours"): _of_colour,
}

HDR_SHAPES: dict[str, type] = {
    "peak": Peak,
    "sustained": Sustained,
    "tone_curve": ToneCurve,
    "halo": Halo,
    "colour_levels": ColourLevels,
}
"""Kind of block -> the shape of its result."""
