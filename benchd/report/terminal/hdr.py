"""HDR results as text: peak and sustained windows, tone curve, halo, colours at levels."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from benchd.analysis.results_hdr import ColourLevels, Halo, Peak, PeakWindow, Sustained, ToneCurve, ToneStep
from benchd.report.digits import number
from benchd.report.figure_text import bare, beside_reach, figure, line, reach
from benchd.report.judged import PRIMARIES
from benchd.report.terminal.text_page import Page
from benchd.report.words import SIGNALS, columns, count, fitting


def _asked(code: int, bits: int, asked_cd_m2: float | None) -> str:
    asked = "" if asked_cd_m2 is None else f", which asks for {number(asked_cd_m2, 'cd/m2')} cd/m2"
    return f"code {code} of {bits} bits{asked}"


def _after(seconds: float) -> str:
    return f"{seconds:g} s" if seconds < 120 else f"{seconds / 60:g} min"


def _windows(windows: Sequence[PeakWindow], width: int) -> list[str]:
    """One row a size: what was lit, the best second, the light at moments, when it fell below 95 %."""
    if not windows:
        return []
    moments = [one.after_s for one in windows[0].moments]
    later_heads = (f"at {_after(one)}" for one in moments)
    head = ("size %", "lit %", "pixels", "peak cd/m2", "±", "trend %/s", *later_heads, "< 95 % after")
    rows: list[tuple[str, ...]] = [head]
    for one in windows:
        lit = "-" if one.true_area_percent is None else f"{one.true_area_percent:.2f}"
        pixels = "-" if one.pixels is None else f"{one.pixels[0]} x {one.pixels[1]}"
        later = [bare(moment.luminance, "cd/m2") for moment in one.moments]
        below = "never" if one.below_95_after_s.value is None else f"{one.below_95_after_s.value:.1f} s"
        rows.append(
            (
                f"{one.area_percent:g}",
                lit,
                pixels,
                beside_reach(one.peak, "cd/m2"),
                reach(one.peak, "cd/m2") or "-",
                bare(one.peak_trend, "%", sign=True),
                *later,
                below,
            )
        )
    return [f"  {row}" for row in columns(fitting(rows, width, ("pixels", "lit %", "trend %/s")))]


def _peak(block: Peak, page: Page) -> list[str]:
    width = page.width
    lines = page.heading(block.block, f"window on black, {_asked(block.code, block.bits, block.asked_cd_m2)}")
    also = [f"window of {block.greatest_area_percent:g} %"] if block.greatest_area_percent is not None else []
    best = block.greatest
    lines += line("greatest peak", figure(best, "cd/m2", " cd/m2"), best, "cd/m2", width=width, also=also)
    full = block.full_over_greatest
    if full.present:
        lines += line("full screen", figure(full, "1", " of it"), full, "1", width=width)
    return [*lines, "", *_windows(block.windows, width), *page.missing(block.missing), *page.method(block.method)]


def _sustained(block: Sustained, page: Page) -> list[str]:
    asked = _asked(block.code, block.bits, block.asked_cd_m2)
    lines = page.heading(block.block, f"window on black for {block.minutes:g} min, {asked}")
    for one in block.windows:
        last = one.moments[-1]
        also = [f"of the best second, after {_after(last.after_s)}"]
        name = f"left of {one.area_percent:g} %"
        lines += line(name, figure(last.share, "%", " %"), last.share, "%", width=page.width, also=also)
    return [*lines, "", *_windows(block.windows, page.width), *page.missing(block.missing), *page.method(block.method)]


def _tone_curve(block: ToneCurve, page: Page) -> list[str]:
    about = f"{SIGNALS.get(block.transfer, block.transfer)}, {block.range} range, window of {block.area_percent:g} %"
    lines = page.heading(block.block, about) + page.prose(block.depth)
    peak, width = block.peak, page.width
    lines += line("peak", figure(peak, "cd/m2", " cd/m2"), peak, "cd/m2", width=width)
    lines += line("black", figure(block.black, "cd/m2", " cd/m2"), block.black, "cd/m2", width=width)
    if block.transfer == "pq":
        ends = block.knee_between
        also = (
            []
            if ends is None
            else [f"between {number(ends[0], 'cd/m2')} and {number(ends[1], 'cd/m2')} cd/m2 asked for"]
        )
        lines += line(
            "leaves the curve", figure(block.knee, "cd/m2", " cd/m2"), block.knee, "cd/m2", width=width, also=also
        )
        if ends is not None:
            below = block.below_clip
            lines += line("under a hard clip", figure(below, "%", " %"), below, "%", width=width)
            lines += page.prose(f"at its end: {block.clip}")
    for name, error in (("mean |error|", block.mean_error), ("worst error", block.worst_error)):
        also = [f"at code {block.worst_code}"] if error is block.worst_error and block.worst_code is not None else []
        lines += line(name, figure(error, "%", " %", sign=bool(also)), error, "%", width=width, also=also)
    for name, difference in (("mean dE ITP", block.mean_delta_e_itp), ("greatest dE ITP", block.max_delta_e_itp)):
        lines += line(name, figure(difference, "dE ITP", ""), difference, "dE ITP", width=width)
    lines += ["", *_tone_table(block.steps)]
    return lines + page.missing(block.missing) + page.method(block.method)


def _tone_table(steps: Sequence[ToneStep]) -> list[str]:
    if not steps:
        return []
    rows = [("code", "asked cd/m2", "cd/m2", "error %", "codes", "dE ITP grey", "dE ITP", "")]
    for one in steps:
        rows.append(
            (
                str(one.code),
                number(one.asked_cd_m2, "cd/m2"),
                bare(one.luminance, "cd/m2"),
                bare(one.error, "%", sign=True),
                bare(one.error_codes, "codes", sign=True),
                bare(one.delta_i, "dE ITP"),
                bare(one.delta_e_itp, "dE ITP"),
                "" if one.region == "tracking" else one.region,
            )
        )
    return [f"  {row}" for row in columns(rows, left=(7,))]


def _halo(block: Halo, page: Page) -> list[str]:
    about = f"window of {block.area_percent:g} %, code {block.code} of {block.bits} bits"
    lines, width = page.heading(block.block, about), page.width
    for name, light in (("window", block.window), ("all black", block.black)):
        lines += line(name, figure(light, "cd/m2", " cd/m2"), light, "cd/m2", width=width)
    lines += line("contrast", figure(block.sequential, "1", ":1"), block.sequential, "1", width=width, note="")
    lines += line("near over far", figure(block.near_over_far, "1", ""), block.near_over_far, "1", width=width)
    lines += page.prose(block.behaviour)
    if block.reach_percent is not None:
        lines += page.prose(f"black is at least doubled up to {block.reach_percent:g} % of the width from the window")
    rows = [("window at % of width", "black cd/m2", "contrast :1", "x all black")]
    for one in block.beside:
        where = f"{one.distance_percent:g} {one.side}"
        rows.append((where, bare(one.black, "cd/m2"), bare(one.contrast, "1"), bare(one.rise, "1")))
    if block.beside:
        lines += ["", *(f"  {row}" for row in columns(rows))]
    boards = [("board", "white cd/m2", "black cd/m2", "contrast :1", "nearest white at % of width")]
    for board in block.boards:
        name, near = f"{board.cells} x {board.cells}", f"{board.distance_percent:.3g}"
        boards.append((name, bare(board.white, "cd/m2"), bare(board.black, "cd/m2"), bare(board.contrast, "1"), near))
    if block.boards:
        lines += ["", *(f"  {row}" for row in columns(boards))]
    return lines + page.missing(block.missing) + page.method(block.method)


def _colour_levels(block: ColourLevels, page: Page) -> list[str]:
    inside = PRIMARIES.get(block.inside, block.inside)
    about = f"{count(len(block.colours), 'colour')} of {inside}, {SIGNALS.get(block.transfer, block.transfer)}"
    lines, width = page.heading(block.block, about), page.width
    mean, most = block.mean_delta_e_itp, block.max_delta_e_itp
    lines += line("mean dE ITP", figure(mean, "dE ITP", ""), mean, "dE ITP", width=width)
    also = [block.worst]
    lines += line("greatest dE ITP", figure(most, "dE ITP", ""), most, "dE ITP", width=width, also=also)
    rows: list[tuple[str, ...]] = [
        ("colour", "level", "asked cd/m2", "cd/m2", "reached %", "x", "y", "dE ITP", "I", "T", "P")
    ]
    for one in block.colours:
        parts = [bare(part, "dE ITP", sign=True) for part in (one.d_i, one.d_t, one.d_p)]
        asked, light = number(one.asked_luminance_cd_m2, "cd/m2"), bare(one.luminance, "cd/m2")
        colour = (bare(one.x, "xy"), bare(one.y, "xy"))
        difference = bare(one.delta_e_itp, "dE ITP")
        rows.append(
            (one.hue, f"{one.level_cd_m2:g}", asked, light, bare(one.reached, "%"), *colour, difference, *parts)
        )
    if block.colours:
        lines += ["", *(f"  {row}" for row in columns(fitting(rows, width, ("asked cd/m2", "reached %")), left=(0,)))]
    return lines + page.missing(block.missing) + page.method(block.method)


HDR_LINES: dict[str, Callable[[Any, Page], list[str]]] = {
    "peak": _peak,
    "sustained": _sustained,
    "tone_curve": _tone_curve,
    "halo": _halo,
    "colour_levels": _colour_levels,
}
"""Kind of block -> its lines, in the order of the page."""
