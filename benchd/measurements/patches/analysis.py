"""A free list of patches: luminance and chromaticity of each, nothing judged."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.places import not_measured
from benchd.analysis.log.step_light import MeterRange, chromaticities, luminance_of
from benchd.measurements.patches.results import Patches, PatchResult

METHOD = "mean of the readings of each patch; chromaticity after CIE 15"


def patches(log_data: LogData, block: Mapping[str, Any], meter: MeterRange, target: Target | None = None) -> Patches:
    """Every patch of one block that was measured, in the order of the plan."""
    name = str(block["name"])
    wanted = [str(one) for one in block.get("names", ())]
    found = {str(one.labels.get("name")): one for one in log_data.of_block(name)}
    measured = [(patch, found[patch]) for patch in wanted if patch in found]
    luminances = [luminance_of(one, meter) for _, one in measured]
    colours = chromaticities([one for _, one in measured], luminances, cct=False)
    return Patches(
        block=name,
        method=METHOD,
        patches=tuple(
            PatchResult(
                name=patch,
                code=one.code,
                bits=one.bits,
                luminance=luminance,
                x=colour.x,
                y=colour.y,
                u_prime=colour.u_prime,
                v_prime=colour.v_prime,
            )
            for (patch, one), luminance, colour in zip(measured, luminances, colours, strict=True)
        ),
        missing=not_measured([patch for patch in wanted if patch not in found], "patch", "patches"),
    )


PART = patches
