"""HDR colours at several luminances in a plan: their keys and their steps."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

from pydantic import Field

from benchd.patch.model import Code
from benchd.plan import layout
from benchd.plan.blocks import Block, BlockBody, EachOnce
from benchd.plan.layout import (
    ordered,
    signal_entry,
    signal_window,
    step,
)
from benchd.plan.measurement import Files, PlanPart
from benchd.plan.plan import Plan
from benchd.plan.signal import Signal
from benchd.plan.step import At, Labels, Step
from benchd.profile.reading.values import (
    AreaPercent,
    Level,
)

Hue = Literal["red", "green", "blue", "cyan", "magenta", "yellow", "white"]


HUES: tuple[Hue, ...] = ("red", "green", "blue", "cyan", "magenta", "yellow", "white")


# Linear light in the named primaries (white D65) -> linear light in BT.2020; from the primaries' chromaticities by the
# method of SMPTE RP 177. BT.709: also printed, rounded, in ITU-R BT.2087.
TO_BT2020: dict[str, tuple[tuple[float, float, float], ...]] = {
    "bt709": ((0.627404, 0.329283, 0.043313), (0.069097, 0.919540, 0.011362), (0.016391, 0.088013, 0.895595)),
    "p3-d65": ((0.753833, 0.198597, 0.047570), (0.045744, 0.941777, 0.012479), (-0.001210, 0.017602, 0.983609)),
    "bt2020": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
}


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

    key_rules = (
        EachOnce("levels_cd_m2", "level"),
        EachOnce("hues", "colour"),
    )


def steps(plan: Plan, block: Block, files: Files, here: At) -> Iterator[Step]:
    """A colour at a level each."""
    body: ColourLevels = block.body
    pairs = [(level, hue) for level in body.levels_cd_m2 for hue in body.hues]
    for level, hue in ordered(plan, block, pairs, key=lambda pair: f"{pair[0]:g}/{pair[1]}"):
        patch = signal_window(plan, colour_code(plan.signal, body.inside, hue, level), body.area_percent)
        labels: Labels = {"hue": hue, "level_cd_m2": level}
        yield step(plan, block, f"{hue}/{level:g}", patch, labels, patch.code)


def describe(plan: Plan, block: Block, files: Files) -> dict[str, Any]:
    """The colours, their levels, and the window."""
    body: ColourLevels = block.body
    entry = signal_entry(plan) | {"levels_cd_m2": list(body.levels_cd_m2), "hues": list(body.hues)}
    return entry | {"inside": body.inside, "area_percent": body.area_percent}


def colour_code(signal: Signal | None, inside: str, hue: str, level_cd_m2: float) -> Code:
    """The code of a primary or secondary of ``inside`` that is part of a white of ``level_cd_m2``."""
    assert signal is not None  # the plan was refused without
    wanted = layout.HUES.get(hue, (1, 1, 1))  # white has all
    rows = TO_BT2020[inside]
    red, green, blue = (max(0.0, level_cd_m2 * sum(m * v for m, v in zip(row, wanted, strict=True))) for row in rows)
    return signal.colour((red, green, blue))


PART = PlanPart(ColourLevels, steps, describe, example={"levels_cd_m2": [100], "hues": ["red"]}, signal="needed")
