"""Windows that stay for minutes: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.light.window_results import MOMENTS, PeakWindow, absences_of, conditions_of, of_window
from benchd.analysis.measurement import ResultPart
from benchd.measurements.claimable import Claimable


@dataclass(frozen=True, slots=True)
class Sustained:
    """Windows that stay for minutes: the same figures as of `Peak`, at later moments."""

    kind: ClassVar[str] = "sustained"
    block: str
    method: str
    code: int
    bits: int
    asked_cd_m2: float | None
    black_s: float
    minutes: float
    windows: tuple[PeakWindow, ...]
    missing: str = ""


def _figures(one: Sustained, target: Target | None) -> Iterator[Figure]:
    for window in one.windows:
        if window.moments:
            last = window.moments[-1]
            name = f"sustained luminance of a {window.area_percent:g} % window"
            how = f"after {last.after_s / 60.0:g} min on black"
            under = (*conditions_of(one), ("after", f"{last.after_s / 60.0:g} min"))
            short = "hdr-sustained-10" if window.area_percent == 10.0 else ""
            yield Figure(name, "HDR", "cd/m2", "more", last.luminance, how, one.block, under, short)
            yield Figure(f"{name}, share of its peak", "HDR", "%", "more", last.share, how, one.block, under)


PART = ResultPart(
    shape=Sustained,
    figures=_figures,
    absences=absences_of,
    keys={(Sustained, "windows"): of_window, **MOMENTS},
    claimable=(
        Claimable(
            *("sustained luminance of a 10 % window", "cd/m2", "more"),
            r"sustained luminance of a [0-9.]+ % window",
        ),
        Claimable(
            *("sustained luminance of a 10 % window, share of its peak", "%", "more"),
            r"sustained luminance of a [0-9.]+ % window, share of its peak",
        ),
    ),
)
