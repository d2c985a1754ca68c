"""Peak luminance over window size as data for a report."""

from __future__ import annotations

from benchd.measurements.peak.results import Peak
from benchd.report.measurement import ShowPart
from benchd.report.model import Line, Section, ending
from benchd.report.plots.window_plots import window_plots
from benchd.report.window_table import requested_words, window_table


def section(block: Peak) -> Section:
    """The maximum peak, the full screen against it, and every size."""
    about = f"window on black, {requested_words(block.code, block.bits, block.requested_cd_m2)}"
    size = block.maximum_area_percent
    also = () if size is None else (f"window of {size:g} %",)
    full = Line("full screen", block.full_over_maximum, "ratio", ("over the maximum peak",))
    items = (
        Line("maximum peak", block.maximum, "cd/m2", also),
        *((full,) if full.quantity.present else ()),
        window_table(block.windows, block.code),
        *ending(block.missing, block.method),
    )
    return Section(block.block, "Peak luminance", about, items)


PART = ShowPart(section=section, plots=window_plots)
