"""The quick check as text: white, black, their contrast, and where the log is."""

from __future__ import annotations

from collections.abc import Mapping

from benchd.analysis.results import Results
from benchd.report.data.log_reference import LogReference
from benchd.report.figure_text import colour_words, figure, line
from benchd.report.terminal.results_text import ratio_lines
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
            shown = figure(light, "cd/m2", " cd/m2")
            lines += line(name, shown, light, "cd/m2", width=page.width, also=words, note=note)
    for one in ratios:
        lines += ratio_lines("contrast", one.ratio, one.black, page, ["sequential, full screen"])
    for absent in results.absent:
        lines += page.warning(f"{absent.result}: {absent.why}")
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
