"""The simulated HDR displays. All invented, as those of `sim.displays`."""

from __future__ import annotations

from dataclasses import replace

from sim.displays import EMISSIVE, WIDE_GAMUT_LCD, DisplayModel
from sim.hdr import Hdr

HDR_LCD = replace(
    WIDE_GAMUT_LCD,
    name="hdr-lcd",
    label="Godwit 32 (invented), HDR LCD without dimming zones",
    white_xy=(0.3127, 0.3290),
    white_cd_m2=620.0,
    black_cd_m2=620.0 / 1300.0,
    hdr=Hdr(knee=0.8),
)

HDR_LCD_HLG = replace(
    HDR_LCD,
    name="hdr-lcd-hlg",
    label="Godwit 32 (invented), HDR LCD without dimming zones, set to HLG",
    hdr=Hdr(transfer="hlg", knee=1.0),
)

HDR_LCD_NARROW = replace(
    HDR_LCD_HLG,
    name="hdr-lcd-narrow",
    label="Godwit 32 (invented), HDR LCD without dimming zones, set to HLG of the narrow range",
    hdr=Hdr(transfer="hlg", range="narrow", knee=1.0),
)

HDR_ZONE_LCD = replace(
    WIDE_GAMUT_LCD,
    name="hdr-zone-lcd",
    label="Whimbrel 32 (invented), HDR LCD with 24 x 14 dimming zones",
    white_xy=(0.3127, 0.3290),
    white_cd_m2=1400.0,
    black_cd_m2=1400.0 / 1250.0,
    limiting=1.1,
    limiting_tau_s=0.4,
    hdr=Hdr(knee=0.85, zones=(24, 14), limit_from=0.3),
)

HDR_EMISSIVE = replace(
    EMISSIVE,
    name="hdr-emissive",
    label="Phalarope 31 (invented), HDR emissive panel with limiting and loss by heat",
    white_xy=(0.3127, 0.3290),
    white_cd_m2=1000.0,
    limiting=3.2,
    limiting_tau_s=0.25,
    hdr=Hdr(knee=0.9, error=0.02, limit_from=0.03, heat_loss=0.35, heat_tau_s=40.0),
)

HDR_MODELS: dict[str, DisplayModel] = {
    model.name: model for model in (HDR_LCD, HDR_LCD_HLG, HDR_LCD_NARROW, HDR_ZONE_LCD, HDR_EMISSIVE)
}
