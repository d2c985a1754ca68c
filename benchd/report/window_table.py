"""Bright windows as data: one row a size, what was lit, the best second, the light at moments."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.light.window_results import PeakWindow
from benchd.report.digits import number
from benchd.report.model import Column, Table, Value


def requested_words(code: int, bits: int, requested_cd_m2: float | None) -> str:
    """``code 520 of 10 bits, which requests 100 cd/m2``."""
    requested = "" if requested_cd_m2 is None else f", which requests {number(requested_cd_m2, 'cd/m2')} cd/m2"
    return f"code {code} of {bits} bits{requested}"


def after_words(seconds: float) -> str:
    """``10 s`` or ``5 min``."""
    return f"{seconds:g} s" if seconds < 120 else f"{seconds / 60:g} min"


def window_table(windows: Sequence[PeakWindow], code: int) -> Table:
    """``code``: what was shown."""
    moments = sorted({moment.after_s for window in windows for moment in window.moments})
    columns = (
        Column("size, %"),
        Column("lit, %", rank=3),
        Column("pixels", rank=4),
        Column("peak", "cd/m2", uncertainty=True),
        Column("after, s", rank=6),
        Column("trend", "%/s", sign=True, rank=2),
        *(Column(f"at {after_words(one)}", "cd/m2") for one in moments),
        Column("< 95 % of\npeak after"),
    )
    return Table(f"Windows of code {code}", columns, tuple(_row(one, moments) for one in windows))


def _row(one: PeakWindow, moments: Sequence[float]) -> tuple[Value, ...]:
    later = {moment.after_s: moment.luminance for moment in one.moments}
    below = "never" if one.below_95_after_s.value is None else f"{one.below_95_after_s.value:.1f} s"
    lit = None if one.true_area_percent is None else f"{one.true_area_percent:.2f}"
    pixels = None if one.pixels is None else f"{one.pixels[0]} x {one.pixels[1]}"
    about_peak = (one.peak, one.peak_after_s, one.peak_trend)
    return (one.area_percent, lit, pixels, *about_peak, *(later.get(moment) for moment in moments), below)
