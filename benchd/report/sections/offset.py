"""Dark offset of the meter and light of the room as data for a report: what was read, whether it was taken off."""

from __future__ import annotations

from collections.abc import Iterator

from benchd.analysis.log.results_run import Offset
from benchd.report.figure_text import bare
from benchd.report.model import Item, Line, Section, Words
from benchd.report.units import sentence
from benchd.report.words import count

TITLES = {"dark_offset": "dark offset", "ambient": "ambient light"}
SCREENS = {"capped": "cap on the meter", "black": "screen black", "off": "display switched off"}


def offset_section(one: Offset) -> Section:
    """What was read beside the patches, and what became of it."""
    items = (Words(f"incomplete: {one.missing}", "warning"),) if one.missing else tuple(_items(one))
    title = TITLES.get(one.block, one.block)
    return Section(title, sentence(title), SCREENS.get(one.screen, one.screen), items)


def _items(one: Offset) -> Iterator[Item]:
    several = [bare(reading.luminance, "cd/m2", sign=True) for reading in one.readings]
    also = (f"{count(len(several), 'time')}: {', '.join(several)}",) if len(several) > 1 else ()
    yield Line("luminance", one.luminance, "cd/m2", also, sign=True)
    if one.subtracted:
        yield Words(f"subtracted from {count(one.subtracted, 'patch', 'patches')}, as the plan says")
        for words in (*filter(None, (one.why,)), *(f"not subtracted: {words}" for words in one.left_out)):
            yield Words(words, "warning")
    else:
        yield Words(f"not subtracted: {one.why}")
    yield Words(one.method, "method")
