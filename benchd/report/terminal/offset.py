"""The meter's dark offset and the light of the room, as text: what was read, and whether it was taken off."""

from __future__ import annotations

from collections.abc import Sequence

from benchd.analysis.log.results_offset import Offset
from benchd.report.figure_text import bare, figure, line
from benchd.report.terminal.text_page import Page
from benchd.report.words import count

TITLES = {"dark_offset": "dark offset", "ambient": "ambient light"}
SCREENS = {"capped": "cap on the meter", "black": "screen black", "off": "display switched off"}


def offset_lines(offsets: Sequence[Offset], page: Page) -> list[str]:
    """A section for each; none where nothing was read beside the patches."""
    lines: list[str] = []
    for one in offsets:
        lines += page.heading(TITLES.get(one.block, one.block), SCREENS.get(one.screen, one.screen))
        lines += page.missing(one.missing)
        if one.missing:
            continue
        shown = figure(one.luminance, "cd/m2", " cd/m2", sign=True)
        several = [bare(reading.luminance, "cd/m2", sign=True) for reading in one.readings]
        also = [f"{count(len(several), 'time')}: {', '.join(several)}"] if len(several) > 1 else []
        lines += line("luminance", shown, one.luminance, "cd/m2", width=page.width, also=also)
        if one.subtracted:
            lines += page.prose(f"subtracted from {count(one.subtracted, 'patch', 'patches')}, as the plan says")
            lines += page.warning(one.why) if one.why else []
            for words in one.left_out:
                lines += page.warning(f"not subtracted: {words}")
        else:
            lines += page.prose(f"not subtracted: {one.why}")
        lines += page.method(one.method)
    return lines
