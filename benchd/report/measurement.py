"""What a measurement gives a report: its section as data, and its plots."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from benchd.analysis.results import Results
from benchd.errors import PackageError
from benchd.measurements import registry
from benchd.report.model import Section, Words
from benchd.report.plots.chromaticity import Chromaticities
from benchd.report.plots.plot import Plot


def no_plots(several: Sequence[tuple[str, Any]], name: str, simulated: bool) -> list[Plot]:
    """A kind that has none."""
    return []


def no_colours(result: Any) -> Chromaticities:
    """A kind that has nothing in the chromaticity diagram."""
    return Chromaticities()


def nothing(result: Any) -> str:
    """No words."""
    return ""


@dataclass(frozen=True, slots=True)
class ShowPart:
    """How one kind of measurement is shown.

    ``section``  its tables, lines and words as data: one renderer draws them on a terminal, one on a page
    ``plots``    plots of (label, result) of one or several logs overlaid; ``name`` begins the names of their files
    ``colours``  what it has in the chromaticity diagram, which all blocks of a log share
    ``alike``    what must agree, beside the target, for results to be overlaid in one plot
    ``against``  with an HDR signal: what its figures are held against
    """

    section: Callable[[Any], Section]
    plots: Callable[[Sequence[tuple[str, Any]], str, bool], list[Plot]] = no_plots
    colours: Callable[[Any], Chromaticities] = no_colours
    alike: Callable[[Any], str] = nothing
    against: Callable[[Any], str] = nothing


def show_part(kind: str) -> ShowPart:
    """How a kind is shown; imported when a report has a block of its kind, not before."""
    if registry.is_built_in(kind):
        built_in: ShowPart = registry.part(kind, "show")
        return built_in
    try:
        found: ShowPart = registry.part(kind, "show")
    except PackageError as fault:
        return _not_shown(str(fault))

    def section(result: Any) -> Section:
        try:
            return found.section(result)
        except Exception as error:  # whatever a stranger's code does
            return _not_shown(str(registry.broken(kind, error))).section(result)

    return replace(found, section=section)


def _not_shown(why: str) -> ShowPart:
    """In place of a kind whose package can't show it; its figures stand in the summary and in the data all the same."""
    return ShowPart(lambda result: Section(result.block, result.kind, "", (Words(why, "warning"),)))


def shown_blocks(results: Results) -> Iterator[tuple[str, Any]]:
    """Every block with its kind, kind by kind in the order of a report."""
    return ((kind, block) for kind in registry.kinds() for block in results.of(kind))
