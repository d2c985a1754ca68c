"""What a block could not give: missing patches first, then headline figures that are absent.

A new kind of result registers what its headline figures are, beside what makes it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import singledispatch

from benchd.analysis.results import Absent, Contrast, Grayscale, Luminance, Patches, Uniformity
from benchd.analysis.uncertainty.quantity import Quantity


@singledispatch
def absences(result: object) -> Iterator[Absent]:
    """What ``result`` could not give. Raises TypeError for a kind of result that has not registered."""
    raise TypeError(f"nothing is known of what a {type(result).__name__} lacks")


@absences.register
def _(result: Luminance) -> Iterator[Absent]:
    for name, figure in (("white", result.white), ("black", result.black)):
        yield from if_absent(f"{result.block}/{name}", figure)


@absences.register
def _(result: Contrast) -> Iterator[Absent]:
    if result.sequential:
        yield from if_absent(f"{result.block}/sequential", result.sequential.ratio)
    if result.checkerboard:
        yield from if_absent(f"{result.block}/checkerboard", result.checkerboard.ratio)


@absences.register
def _(result: Uniformity) -> Iterator[Absent]:
    for level in result.levels:
        path = f"{result.block}/{level.level}"
        if level.missing:
            yield Absent(path, level.missing)
            continue
        for name, figure in (
            ("non_uniformity", level.non_uniformity),
            ("worst_deviation", level.worst_deviation),
            ("max_delta_uv", level.max_delta_uv),
            ("max_pair_delta_uv", level.max_pair_delta_uv),
        ):
            yield from if_absent(f"{path}/{name}", figure)


@absences.register
def _(result: Grayscale) -> Iterator[Absent]:
    if result.missing:
        yield Absent(result.block, result.missing)
        return
    for summary in result.delta_e:
        yield from if_absent(f"{result.block}/delta_e/{summary.convention}", summary.mean)
    for fit in result.gamma_fits:
        name = "white_fixed" if fit.white_fixed else "free"
        yield from if_absent(f"{result.block}/gamma_fit/{name}", fit.gamma)
    if result.gsdf:
        yield from if_absent(f"{result.block}/gsdf", result.gsdf.worst)


@absences.register
def _(result: Patches) -> Iterator[Absent]:
    if result.missing:
        yield Absent(result.block, result.missing)


def if_absent(path: str, figure: Quantity) -> Iterator[Absent]:
    """``path`` and the reason where ``figure`` has neither value nor bound."""
    if not figure.present:
        yield Absent(path, figure.why)
