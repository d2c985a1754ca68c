"""Peak luminance over the size of a window: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.light.window_results import MOMENTS, PeakWindow, absences_of, conditions_of, of_window
from benchd.analysis.measurement import ResultPart
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.claimable import Claimable


@dataclass(frozen=True, slots=True)
class Peak:
    """All sizes of one block. ``asked_cd_m2``: what the codes ask for, None without an HDR signal.

    ``black_s``  seconds of black before each window
    """

    kind: ClassVar[str] = "peak"
    block: str
    method: str
    code: int
    bits: int
    asked_cd_m2: float | None
    black_s: float
    windows: tuple[PeakWindow, ...]
    greatest: Quantity
    greatest_area_percent: float | None
    full_over_greatest: Quantity
    missing: str = ""


SHORT = {10.0: "hdr-peak-10", 100.0: "hdr-peak-full"}


def _figures(one: Peak, target: Target | None) -> Iterator[Figure]:
    how, under = "best second of the first ten, on black", conditions_of(one)
    for window in one.windows:
        name = f"peak luminance of a {window.area_percent:g} % window"
        short = SHORT.get(window.area_percent, "")
        yield Figure(name, "HDR", "cd/m2", "more", window.peak, how, one.block, under, short)
    sizes = ", ".join(f"{window.area_percent:g}" for window in one.windows)
    under = (*under, ("windows", f"{sizes} %"))
    yield Figure("maximum peak luminance", "HDR", "cd/m2", "more", one.greatest, how, one.block, under, "hdr-peak")


PART = ResultPart(
    shape=Peak,
    figures=_figures,
    absences=absences_of,
    keys={(Peak, "windows"): of_window, **MOMENTS},
    claimable=(
        Claimable("peak luminance of a 10 % window", "cd/m2", "more", r"peak luminance of a [0-9.]+ % window"),
        Claimable("maximum peak luminance", "cd/m2", "more"),
    ),
)
