"""The displays of the worked scenario: a predecessor and its successor, three units of each, both with an HDR mode.

All invented, as is their maker Heathfield. The successor has the same panel, somewhat more contrast, a white that
the factory tuned, and more light in HDR.
"""

from __future__ import annotations

from dataclasses import replace

from sim.displays import OFFICE_LCD, DisplayModel
from sim.hdr import Hdr

PREDECESSOR = replace(
    OFFICE_LCD,
    name="dunlin-27",
    label="Dunlin 27 (invented), predecessor",
    white_xy=(0.3058, 0.3180),
    white_cd_m2=356.0,
    black_cd_m2=356.0 / 1190.0,
    gamma=(2.26, 2.28, 2.34),
    bow=0.02,
)
SUCCESSOR = replace(
    OFFICE_LCD,
    name="dunlin-27-b",
    label="Dunlin 27 B (invented), successor",
    white_xy=(0.3122, 0.3284),
    white_cd_m2=372.0,
    black_cd_m2=372.0 / 1330.0,
    gamma=(2.19, 2.20, 2.20),
    bow=0.005,
)

UNITS: tuple[tuple[float, float, float], ...] = ((0.0, 0.0, 0.0), (0.012, -0.018, 0.0009), (-0.009, 0.014, -0.0007))
"""How three units of a model differ: in white and in contrast (fractions), and in x and y of white."""


def _units(model: DisplayModel) -> dict[str, DisplayModel]:
    made = {}
    for number, (white, contrast, xy) in enumerate(UNITS, 1):
        luminance = model.white_cd_m2 * (1.0 + white)
        ratio = model.white_cd_m2 / model.black_cd_m2 * (1.0 + contrast)
        x, y = model.white_xy
        name = f"{model.name}-unit-{number}"
        made[name] = replace(
            model,
            name=name,
            label=f"{model.label}, unit {number}",
            white_cd_m2=luminance,
            black_cd_m2=luminance / ratio,
            white_xy=(x + xy, y + xy),
        )
    return made


def _hdr(model: DisplayModel, white_cd_m2: float, knee: float) -> DisplayModel:
    return replace(
        model,
        name=f"{model.name}-hdr",
        label=f"{model.label}, in HDR",
        white_xy=(0.3127, 0.3290),
        white_cd_m2=white_cd_m2,
        black_cd_m2=white_cd_m2 * model.black_cd_m2 / model.white_cd_m2,
        hdr=Hdr(knee=knee),
    )


STORY_MODELS: dict[str, DisplayModel] = {
    **_units(PREDECESSOR),
    **_units(SUCCESSOR),
    "dunlin-27-hdr": _hdr(PREDECESSOR, 430.0, 0.7),
    "dunlin-27-b-hdr": _hdr(SUCCESSOR, 615.0, 0.8),
}
