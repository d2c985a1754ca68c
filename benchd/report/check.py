"""The quick check as text: white, black, their contrast, and where the log is."""

from __future__ import annotations

from benchd.analysis.results import Results
from benchd.report.data import LogReference
from benchd.report.figures import colour_words, figure, line
from benchd.report.page import LEAST_WIDTH, Page
from benchd.report.words import duration


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
    page = Page(max(LEAST_WIDTH, width), colour)
    lines = page.simulated(results.simulated)
    for block in results.luminance:
        for name, quantity in (("white", block.white), ("black", block.black)):
            words = colour_words(block.white_chromaticity, uv=False) if name == "white" else []
            shown = figure(quantity, "cd/m2", " cd/m2")
            lines += line(name, shown, quantity, "cd/m2", width=page.width, also=words)
    for contrast in results.contrast:
        if contrast.sequential:
            ratio = contrast.sequential.ratio
            also = ["sequential, full screen"]
            lines += line("contrast", figure(ratio, "1", ":1"), ratio, "1", width=page.width, also=also)
    for absent in results.absent:
        lines += page.warning(f"{absent.result}: {absent.why}")
    said = []
    if bench_s is not None:
        virtual = " (virtual time)" if results.virtual_time else ""
        said.append(f"{duration(bench_s)} on the bench{virtual}.")
    if results.faults:
        said.append(f"Faults: {results.faults}.")
    if log:
        said.append(f"Log: {log.file}")
    if said:
        lines += page.prose(" ".join(said))
    lines += page.simulated(results.simulated)
    return "\n".join(lines) + "\n"
