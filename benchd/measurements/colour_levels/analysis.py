"""HDR colours at several luminances against what their codes request: differences after ITU-R BT.2124."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from benchd.analysis.colour import hlg, itp, pq
from benchd.analysis.colour.target import Target
from benchd.analysis.light.windows import signal_of
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import few, not_measured
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import MeterRange, chromaticities, luminance_of
from benchd.analysis.uncertainty.cloud import Cloud
from benchd.analysis.uncertainty.itp_difference import delta_e_itp_cloud, whole_delta_e_itp
from benchd.analysis.uncertainty.quantity import Quantity, absent, composed, derived, scaled
from benchd.analysis.uncertainty.sources import Triple, total
from benchd.measurements.colour_levels.results import ColourLevels, LevelColour

METHOD = (
    "colours in a window on black; targets from the codes that were shown, decoded in ITU-R BT.2020 and in absolute "
    "light, nothing adapted or scaled; differences after ITU-R BT.2124, split into I, T = Ct / 2 and P = Cp, each x 720"
)


def colour_levels(
    log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None
) -> ColourLevels:
    """Every colour of one block that was measured, in the plan's order."""
    signal = block["signal"]
    found = {
        (str(one.labels["hue"]), float(one.labels["level_cd_m2"])): one for one in log_data.of_block(str(block["name"]))
    }
    wanted = [(str(hue), float(level)) for level in block["levels_cd_m2"] for hue in block["hues"]]
    keys = [key for key in wanted if key in found]
    lights = [found[key] for key in keys]
    luminances = [luminance_of(one, meter) for one in lights]
    shades = chromaticities(lights, luminances, cct=False)
    usable = [
        index
        for index, (light, shade) in enumerate(zip(lights, shades, strict=True))
        if light.mean is not None and luminances[index].plain and shade.x.plain
    ]
    aims = [target_xyz(light.code, signal) for light in lights]
    cloud: Cloud | None = None
    if usable:
        _, cloud = delta_e_itp_cloud([lights[index] for index in usable], [aims[index] for index in usable])
    rows = {index: row for row, index in enumerate(usable)}
    colours = tuple(
        _colour(key, light, luminances[index], (shades[index].x, shades[index].y), aims[index], cloud, rows.get(index))
        for index, (key, light) in enumerate(zip(keys, lights, strict=True))
    )
    missing = not_measured(
        few([f"{hue} {level:g}" for hue, level in wanted if (hue, level) not in found]), "colour", "colours"
    )
    everything = cloud if len(usable) == len(lights) else None
    counted = [] if missing else [one.delta_e_itp for one in colours]
    nothing = missing or "nothing was measured"
    most = whole_delta_e_itp(counted, everything, "max", nothing)
    worst = max(colours, key=lambda one: one.delta_e_itp.value or 0.0) if most.present else None
    return ColourLevels(
        block=str(block["name"]),
        method=METHOD,
        transfer=str(signal["transfer"]),
        bits=int(signal["bits"]),
        inside=str(block["inside"]),
        area_percent=float(block["area_percent"]) if "area_percent" in block else None,
        colours=colours,
        mean_delta_e_itp=whole_delta_e_itp(counted, everything, "mean", nothing),
        max_delta_e_itp=most,
        worst="" if worst is None else f"{worst.hue} at {worst.level_cd_m2:g} cd/m2",
        missing=missing,
    )


def target_xyz(code: tuple[int, int, int], signal: Mapping[str, Any]) -> Triple:
    """XYZ in cd/m2 that a code requests."""
    values = np.array([signal_of(channel, signal) for channel in code])
    rgb = pq.luminance(values) if signal["transfer"] == "pq" else hlg.display_light(values, float(signal["peak_cd_m2"]))
    x, y, z = itp.xyz_from_rgb(rgb).tolist()
    return (x, y, z)


def _colour(
    key: tuple[str, float],
    light: StepData,
    luminance: Quantity,
    xy: tuple[Quantity, Quantity],
    aim: Triple,
    cloud: Cloud | None,
    row: int | None,
) -> LevelColour:
    parts = [luminance, *xy]
    if cloud is None or row is None:
        why = next((part.why for part in parts if not part.plain), "it has no figures")
        nothing = absent("1", why, light.records)
        difference, axes = nothing, (nothing, nothing, nothing)
    else:
        apart = cloud.values[row].tolist()
        difference = composed(math.sqrt(sum(one * one for one in apart)), "1", parts, sources=cloud.row(row))
        i, t, p = (
            composed(value, "1", parts, sources=total([(1.0, node)]))
            for value, node in zip(apart, cloud.nodes[row], strict=True)
        )
        axes = (i, t, p)
    return LevelColour(
        hue=key[0],
        level_cd_m2=key[1],
        code=light.code,
        requested_luminance_cd_m2=aim[1],
        luminance=luminance,
        x=xy[0],
        y=xy[1],
        reached=scaled(luminance, 100.0 / aim[1], "%") if aim[1] > 0.0 else derived(0.0, "%", [(0.0, luminance)]),
        delta_e_itp=difference,
        d_i=axes[0],
        d_t=axes[1],
        d_p=axes[2],
    )


PART = colour_levels
