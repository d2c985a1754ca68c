"""Bright windows on black over time: the shape of the results, and what all kinds of them share."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from benchd.analysis.figure_conditions import Conditions
from benchd.analysis.uncertainty.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Moment:
    """The light at a moment after the patch appeared; ``share`` in % of the best second; ``trend`` in %/s of itself."""

    after_s: float
    luminance: Quantity
    share: Quantity
    trend: Quantity


@dataclass(frozen=True, slots=True)
class PeakWindow:
    """One size of a bright window on black.

    ``pixels`` and ``true_area_percent`` are those that were really lit; ``peak`` is the best second of the first ten,
    which began ``peak_after_s`` after the patch appeared; ``peak_trend`` how fast the light changed in it, %/s;
    ``below_95_after_s`` when the light fell under 95 % of it.
    """

    area_percent: float
    pixels: tuple[int, int] | None
    true_area_percent: float | None
    peak: Quantity
    peak_after_s: float | None
    peak_trend: Quantity
    moments: tuple[Moment, ...]
    below_95_after_s: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Windows:
    """What results of windows of several sizes have in common.

    ``requested_cd_m2``  what the code requests, None without an HDR signal
    ``black_s``      seconds of black before each window
    ``missing``      sizes that were not measured
    """

    block: str
    method: str
    code: int
    bits: int
    requested_cd_m2: float | None
    black_s: float
    windows: tuple[PeakWindow, ...]
    missing: str = ""


def conditions_of(one: Windows) -> Conditions:
    """What the window's codes request, and the black before it."""
    code = f"code {one.code} of {one.bits} bits"
    requested = code if one.requested_cd_m2 is None else f"{one.requested_cd_m2:g} cd/m2"
    return (("requested", requested), ("black before", f"{one.black_s:g} s"))


def peaks_of(one: Windows) -> Iterator[tuple[str, Quantity]]:
    """The peak of each size, which may be absent."""
    return ((f"{window.area_percent:g}", window.peak) for window in one.windows)


def of_window(one: PeakWindow) -> str:
    """The name of a window among several."""
    return f"{one.area_percent:g}-percent"


def _of_moment(one: Moment) -> str:
    return f"{one.after_s:g}-s"


MOMENTS: Mapping[tuple[type, str], Callable[[Any], str]] = {(PeakWindow, "moments"): _of_moment}
"""The names of a window's moments."""
