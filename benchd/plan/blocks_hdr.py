"""Blocks about brightness beyond SDR: peak over window size, sustained light, tone curve, halo, colours at levels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field

from benchd.plan.block_body import BlockBody, twice
from benchd.profile.reading.base import Wrong
from benchd.profile.reading.explain import show
from benchd.profile.reading.values import AreaPercent, Level

HALO_AREA_PERCENT = 4.0
Hue = Literal["red", "green", "blue", "cyan", "magenta", "yellow", "white"]
HUES: tuple[Hue, ...] = ("red", "green", "blue", "cyan", "magenta", "yellow", "white")


class Peak(BlockBody):
    """Luminance of a bright window on black over its size and over time, each after a rest in the dark."""

    areas_percent: tuple[AreaPercent, ...] = Field(
        default=(1.0, 2.0, 3.0, 5.0, 10.0, 18.0, 25.0, 50.0, 75.0, 100.0),
        min_length=1,
        max_length=24,
        description="sizes of the window, percent of the screen's area",
    )
    for_s: float = Field(default=60.0, ge=10, le=120, description="seconds that each window is read for")
    black_s: float = Field(default=10.0, ge=5, le=600, description="seconds of black before each window")
    level_cd_m2: Level | None = Field(
        default=None, description="luminance that the code stands for, with signal: only; left out: the largest code"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A size given twice."""
        return twice(data.get("areas_percent"), "areas_percent", "size")


class Sustained(BlockBody):
    """Luminance of a bright window that stays: how much is left after minutes. It loads the panel."""

    areas_percent: tuple[AreaPercent, ...] = Field(
        default=(10.0, 100.0), min_length=1, max_length=8, description="sizes of the window, percent of the area"
    )
    minutes: float = Field(default=10.0, ge=1, le=30, description="minutes that each window stays; 30 at most")
    black_s: float = Field(default=30.0, ge=5, le=3600, description="seconds of black before each window")
    level_cd_m2: Level | None = Field(
        default=None, description="luminance that the code stands for, with signal: only; left out: the largest code"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A size given twice."""
        return twice(data.get("areas_percent"), "areas_percent", "size")


class ToneCurve(BlockBody):
    """Greys of the signal's own scale against its tone curve, and where the screen rolls off. Needs signal:."""

    steps: int | None = Field(default=None, ge=5, le=129, description="number of equal steps of the signal (33)")
    levels_cd_m2: tuple[Level, ...] | None = Field(
        default=None,
        min_length=2,
        max_length=129,
        description="luminances that the codes stand for, in place of steps; with HLG also black and the peak",
    )
    area_percent: AreaPercent = 10.0

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Steps and levels at once, or a level given twice."""
        if "steps" in data and "levels_cd_m2" in data:
            yield Wrong(("levels_cd_m2",), "give steps or levels_cd_m2, not both", at_key=True)
        yield from twice(data.get("levels_cd_m2"), "levels_cd_m2", "level")


class Halo(BlockBody):
    """Black beside bright: a bright window at set distances from the meter, and checkerboards of set cells.

    The meter stays at the centre; the window comes nearer. Dimming zones and haloing show as black that rises.
    """

    distances_percent: tuple[float, ...] = Field(
        default=(2.0, 5.0, 10.0, 20.0, 30.0),
        min_length=1,
        max_length=16,
        description="from the meter to the nearest edge of the window, percent of the screen's width",
    )
    area_percent: float = Field(
        default=HALO_AREA_PERCENT, ge=0.5, le=10, description="size of the window, percent of the screen's area"
    )
    sides: tuple[Literal["right", "left"], ...] = Field(
        default=("right",), min_length=1, description="on which side of the meter the window is"
    )
    boards: tuple[int, ...] = Field(
        default=(3, 5, 9, 15),
        max_length=8,
        description="checkerboards with so many columns and rows (odd, so that a cell's middle is the screen's)",
    )
    level_cd_m2: Level | None = Field(
        default=None, description="luminance that the code stands for, with signal: only; left out: the largest code"
    )

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """Windows that would leave the screen or cover the meter, boards without a middle cell, things given twice."""
        for key, what in (("distances_percent", "distance"), ("sides", "side"), ("boards", "board")):
            yield from twice(data.get(key), key, what)
        area = data.get("area_percent", HALO_AREA_PERCENT)
        side = 100.0 * (area / 100.0) ** 0.5 if _is_number(area) and area > 0 else 0.0
        for index, distance in enumerate(_listed(data.get("distances_percent"))):
            if _is_number(distance) and not 0.5 <= distance <= 50.0 - side:
                yield Wrong(
                    ("distances_percent", index),
                    f"distance {show(distance)}: use 0.5 to {50.0 - side:.3g} % of the width, or the window of "
                    f"{area:g} % would cover the meter or leave the screen",
                )
        for index, board in enumerate(_listed(data.get("boards"))):
            if isinstance(board, int) and (board % 2 == 0 or not 3 <= board <= 25):
                yield Wrong(("boards", index), f"board {show(board)}: an odd number of cells, 3 to 25")


class ColourLevels(BlockBody):
    """Primaries and secondaries at several luminances, held against the signal's own colours. Needs signal:."""

    levels_cd_m2: tuple[Level, ...] = Field(
        default=(10.0, 50.0, 100.0, 200.0),
        min_length=1,
        max_length=16,
        description="luminance of the white that each colour is a part of, cd/m2",
    )
    hues: tuple[Hue, ...] = Field(default=HUES, min_length=1, description="which colours")
    inside: Literal["bt709", "p3-d65", "bt2020"] = Field(
        default="p3-d65", description="whose primaries the colours are, carried in the signal's BT.2020"
    )
    area_percent: AreaPercent = 10.0

    @classmethod
    def cross_field_errors(cls, data: Mapping[str, Any]) -> Iterable[Wrong]:
        """A level or a colour given twice."""
        yield from twice(data.get("levels_cd_m2"), "levels_cd_m2", "level")
        yield from twice(data.get("hues"), "hues", "colour")


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []
