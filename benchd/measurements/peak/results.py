"""Peak luminance over the size of a window: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.light.window_results import MOMENTS, Windows, conditions_of, of_window, peaks_of
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak(Windows):
    """All sizes of one block, and the brightest."""

    kind: ClassVar[str] = "peak"
    maximum: Quantity
    maximum_area_percent: float | None
    full_over_maximum: Quantity


PEAK = DeclaredFigure(
    *("peak luminance of a {} % window", "HDR", "cd/m2", "more"),
    head="peak\n{} %",
    rank=1,
    member="[0-9.]+",
    members={"10": "hdr-peak-10", "100": "hdr-peak-full"},
)
MAXIMUM = DeclaredFigure("maximum peak luminance", "HDR", "cd/m2", "more", "hdr-peak", "maximum\npeak")


def _figures(one: Peak, target: Target | None) -> Iterator[Figure]:
    how, under = "best second of the first ten, on black", conditions_of(one)
    for window in one.windows:
        yield figure_of(PEAK.of(f"{window.area_percent:g}"), window.peak, how, one.block, under)
    sizes = ", ".join(f"{window.area_percent:g}" for window in one.windows)
    yield figure_of(MAXIMUM, one.maximum, how, one.block, (*under, ("windows", f"{sizes} %")))


PART = ResultPart(
    shape=Peak,
    figures=_figures,
    absences=absences_of(parts=peaks_of),
    keys={(Peak, "windows"): of_window, **MOMENTS},
    declared=(PEAK, MAXIMUM),
)
