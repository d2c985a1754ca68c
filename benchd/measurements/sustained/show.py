"""What is left of a bright window after minutes, as data for a report."""

from __future__ import annotations

from benchd.analysis.light.window_results import PeakWindow
from benchd.measurements.sustained.results import Sustained
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.measurement import ShowPart
from benchd.report.model import Item, Line, Section, ending
from benchd.report.plots.window_plots import window_plots
from benchd.report.stands_out import SUSTAINED_PERCENT, Remark, under
from benchd.report.window_table import after_words, requested_words, window_table


def section(block: Sustained) -> Section:
    """What is left of each size, and its light at moments."""
    requested = requested_words(block.code, block.bits, block.requested_cd_m2)
    items: tuple[Item, ...] = (
        *(_left(one) for one in block.windows),
        window_table(block.windows, block.code),
        *ending(block.missing, block.method),
    )
    return Section(block.block, "Sustained luminance", f"window on black for {block.minutes:g} min, {requested}", items)


def _left(one: PeakWindow) -> Line:
    last = one.moments[-1]
    also = (f"of the best second, after {after_words(last.after_s)}",)
    return Line(f"left of {one.area_percent:g} %", last.share, "%", also)


def brief(block: Sustained) -> Brief:
    """What is left of each size."""
    lines, remarks = [], []
    for one in block.windows:
        if one.moments:
            last, size = one.moments[-1], f"{one.area_percent:g} %"
            left = BriefFigure(last.share, "%", at=f"of its peak after {after_words(last.after_s)}")
            lines.append(BriefLine(f"left of {size}", left, (BriefFigure(last.luminance, "cd/m2"),)))
            if excess := under(last.share, SUSTAINED_PERCENT):
                falls = f"a window of {size} falls to {last.share.value:.0f} % of its peak"
                remarks.append(Remark(excess, f"{falls} in {after_words(last.after_s)}"))
    return Brief(tuple(lines), tuple(remarks))


PART = ShowPart(section=section, plots=window_plots, brief=brief)
