"""Windows that stay for minutes: the shape of the results and their figures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from benchd.analysis.catalogue_figure import Figure, figure_of
from benchd.analysis.colour.target import Target
from benchd.analysis.light.window_results import MOMENTS, Windows, conditions_of, of_window, peaks_of
from benchd.analysis.measurement import ResultPart, absences_of
from benchd.measurements.declared_figure import DeclaredFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class Sustained(Windows):
    """Windows that stay for minutes: the same figures as of `Peak`, at later moments."""

    kind: ClassVar[str] = "sustained"
    minutes: float


SUSTAINED = DeclaredFigure(
    *("sustained luminance of a {} % window", "HDR", "cd/m2", "more"),
    head="sustained\n{} %",
    rank=1,
    member="[0-9.]+",
    members={"10": "hdr-sustained-10"},
)
SHARE = DeclaredFigure(
    *(f"{SUSTAINED.name}, share of its peak", "HDR", "%", "more"),
    head="of its\npeak\n{} %",
    rank=2,
    member="[0-9.]+",
    members={"10": ""},
)


def _figures(one: Sustained, target: Target | None) -> Iterator[Figure]:
    for window in one.windows:
        if window.moments:
            last, size = window.moments[-1], f"{window.area_percent:g}"
            how = f"after {last.after_s / 60.0:g} min on black"
            under = (*conditions_of(one), ("after", f"{last.after_s / 60.0:g} min"))
            yield figure_of(SUSTAINED.of(size), last.luminance, how, one.block, under)
            yield figure_of(SHARE.of(size), last.share, how, one.block, under)


PART = ResultPart(
    shape=Sustained,
    figures=_figures,
    absences=absences_of(parts=peaks_of),
    keys={(Sustained, "windows"): of_window, **MOMENTS},
    declared=(SUSTAINED, SHARE),
)
