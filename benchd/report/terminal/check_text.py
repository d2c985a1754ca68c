"""The quick check as text: white, black, their contrast, and where the log is."""

from __future__ import annotations

from collections.abc import Mapping

from benchd.analysis.results import Results
from benchd.report.data.log_reference import LogReference
from benchd.report.figure_text import colour_words, note_of_ratio
from benchd.report.model import Line
from benchd.report.terminal.section_text import line_of
from benchd.report.terminal.text_page import page_for
from benchd.report.words import duration, printable


def render_check(
    results: Results,
    *,
    log: LogReference | None = None,
    bench_s: float | None = None,
    width: int = 100,
    colour: bool = False,
) -> str:
    """Three lines of figures and one about the run; ``bench_s`` is the time it took on the bench.

    On a simulated bench the first and the last line say SIMULATED.
    """
    page = page_for(width, colour)
    lines = page.simulated(results.simulated)
    ratios = [block.sequential for block in results.of("contrast") if block.sequential]
    said = {one.ratio.why for one in ratios}  # a note on black stands once, beside the contrast
    for block in results.of("luminance"):
        for name, light in (("white", block.white), ("black", block.black)):
            words = colour_words(block.white_chromaticity, uv=False) if name == "white" else []
            note = "" if light.why in said else light.why
            lines += line_of(Line(name, light, "cd/m2", tuple(words), note), page)
    for one in ratios:
        note, also = note_of_ratio(one.ratio, one.black), ("sequential, full screen",)
        lines += line_of(Line("contrast", one.ratio, "1", also, note), page)
    for absent in results.absent:
        lines += page.warning(f"{absent.result}: {absent.why}")
    if not results.meter_is_stated:
        lines += page.warning("nothing is stated of the meter: the intervals hold its readings' noise alone")
    about = []
    if bench_s is not None:
        virtual = " (virtual time)" if results.virtual_time else ""
        about.append(f"{duration(bench_s)} on the bench{virtual}.")
    if isinstance(correction := results.meter.get("correction"), Mapping):
        about.append(f"Meter corrected by {correction['name']}.")
    if results.faults:
        about.append(f"Faults: {results.faults}.")
    if log:
        about.append(f"Log: {printable(log.file)}")
    if about:
        lines += page.prose(" ".join(about))
    lines += page.simulated(results.simulated)
    return "\n".join(lines) + "\n"
