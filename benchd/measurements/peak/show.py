"""Peak luminance over window size as data for a report."""

from __future__ import annotations

from benchd.analysis.uncertainty.quantity import ratio
from benchd.measurements.peak.results import Peak
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.measurement import ShowPart
from benchd.report.model import Line, Section, ending
from benchd.report.plots.window_plots import window_plots
from benchd.report.stands_out import FULL_SCREEN_SHARE, Remark, under
from benchd.report.window_table import requested_words, window_table


def section(block: Peak) -> Section:
    """The maximum peak, the full screen against it, and every size."""
    about = f"window on black, {requested_words(block.code, block.bits, block.requested_cd_m2)}"
    size = block.maximum_area_percent
    every = ("all windows agree within their uncertainty",) if _alike(block) else ()
    also = () if size is None else (f"window of {size:g} %", *every)
    full = Line("full screen", block.full_over_maximum, "ratio", ("over the maximum peak",))
    items = (
        Line("maximum peak", block.maximum, "cd/m2", also),
        *((full,) if full.quantity.present else ()),
        window_table(block.windows, block.code),
        *ending(block.missing, block.method),
    )
    return Section(block.block, "Peak luminance", about, items)


def brief(block: Peak) -> Brief:
    """The highest peak, and what is left of it on the full screen."""
    size = block.maximum_area_percent
    at = "" if size is None else "at every window" if _alike(block) else f"at a window of {size:g} %"
    share = block.full_over_maximum
    also = (BriefFigure(share, "ratio", "full screen over it"),) if share.present else ()
    excess = under(share, FULL_SCREEN_SHARE)
    dims = f"the full screen has {100.0 * (share.value or 0.0):.0f} % of the highest peak"
    line = BriefLine("peak", BriefFigure(block.maximum, "cd/m2", at=at), also)
    return Brief((line,), (Remark(excess, dims),) if excess else ())


def _alike(block: Peak) -> bool:
    """Does no window differ from the highest by more than its uncertainty? Then which one is the highest is chance."""
    shares = [ratio(one.peak, block.maximum).interval for one in block.windows]
    return len(shares) > 1 and all(share is not None and share[0] <= 1.0 <= share[1] for share in shares)


PART = ShowPart(section=section, plots=window_plots, brief=brief)
