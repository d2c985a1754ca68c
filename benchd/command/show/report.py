"""``benchd report``: a page of one log or several, and its plots as files."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from benchd.analysis.log.history import history
from benchd.command.messages import say
from benchd.command.show.printed import write_text
from benchd.command.show.results import results_of
from benchd.errors import InputError
from benchd.exits import Exit
from benchd.run.log.journal import LogFile

if TYPE_CHECKING:
    from benchd.report.plots.plot import Plot


def main(arguments: Namespace) -> Exit:
    """Write the page, and the plots with --plots."""
    if not arguments.output and not arguments.plots:
        raise InputError("name the output: -o PAGE.html (or -o - for stdout), or --plots DIR for plots alone")
    from benchd.report.page.results_page import Logged, report_page, report_plots

    logs = []
    for name in arguments.logs:
        results, reference = results_of(Path(name), arguments.target)
        logs.append(Logged(results, reference, history(LogFile(Path(name)).records())))
    claims = None
    if arguments.claims:
        from benchd.command.show.claims import claims_shown, sheet_of

        claims = claims_shown(sheet_of(arguments.claims), [one.results for one in logs])
    if arguments.plots:
        write_plots(report_plots(logs), Path(arguments.plots))
    if arguments.output:
        write_text(report_page(logs, claims), arguments.output, "Page")
    return Exit.COMPLETE


def write_plots(plots: Sequence[Plot], folder: Path) -> None:
    """Every plot as SVG and PNG. Raises `InputError` when the folder can't be written."""
    from benchd.report.plots.plot import to_files

    try:
        folder.mkdir(parents=True, exist_ok=True)
        for plot in plots:
            svg, png = to_files(plot)
            (folder / f"{plot.name}.svg").write_text(svg, encoding="utf-8")
            (folder / f"{plot.name}.png").write_bytes(png)
    except OSError as error:
        raise InputError(f"{folder} can't be written: {(error.strerror or 'unknown reason').lower()}") from None
    say(f"Plots: {len(plots)}, each as SVG and PNG, in {folder}")
