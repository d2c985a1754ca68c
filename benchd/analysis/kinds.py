"""Which analysis belongs to which kind of block. Each is imported when a log has a block of its kind, not before."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from benchd.analysis.colour.target import Target
from benchd.analysis.log.log_data import LogData
from benchd.analysis.log.step_light import MeterRange

if TYPE_CHECKING:
    from benchd.analysis.sweep import Block

REFERENCE = "reference"
DARK_OFFSET, AMBIENT = OFFSETS = ("dark_offset", "ambient")

Analysis: TypeAlias = "Callable[[LogData, Mapping[str, Any], MeterRange, Target | None], Block]"


def analysis_of(kind: str) -> Analysis | None:
    """The analysis of a kind of block; None for a kind that has none."""
    if of_target := _against_target(kind):
        return of_target
    of_light = _of_the_light_alone(kind)
    return (lambda survey, block, meter, target: of_light(survey, block, meter)) if of_light else None


def _against_target(kind: str) -> Analysis | None:
    if kind == "grayscale":
        from benchd.measurements.grayscale.analysis import grayscale

        return grayscale
    if kind == "gamut":
        from benchd.measurements.gamut.analysis import gamut

        return gamut
    if kind == "colours":
        from benchd.measurements.colours.analysis import colours

        return colours
    return None


def _of_the_light_alone(kind: str) -> Callable[[LogData, Mapping[str, Any], MeterRange], Block] | None:
    if kind == "luminance":
        from benchd.analysis.log.step_light import luminance

        return luminance
    if kind == "contrast":
        from benchd.measurements.contrast.analysis import contrast

        return contrast
    if kind == "uniformity":
        from benchd.measurements.uniformity.analysis import uniformity

        return uniformity
    if kind == "patches":
        from benchd.measurements.patches.analysis import patches

        return patches
    if kind in ("peak", "sustained", "tone_curve", "halo", "colour_levels"):
        from benchd.analysis.hdr import HDR_BLOCKS

        return HDR_BLOCKS[kind]
    return None
