"""What a measurement gives a report: its section as data, and its plots."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from benchd.measurements import registry
from benchd.report.model import Section
from benchd.report.plots.plot import Plot


def no_plots(several: Sequence[tuple[str, Any]], name: str, simulated: bool) -> list[Plot]:
    """A kind that has none."""
    return []


@dataclass(frozen=True, slots=True)
class ShowPart:
    """How one kind of measurement is shown.

    ``section``  its tables, lines and words as data: one renderer draws them on a terminal, one on a page
    ``plots``    plots of (label, result) of one or several logs overlaid; ``name`` begins the names of their files
    """

    section: Callable[[Any], Section]
    plots: Callable[[Sequence[tuple[str, Any]], str, bool], list[Plot]] = no_plots


def show_part(kind: str) -> ShowPart:
    """How a kind is shown; imported when a report has a block of its kind, not before."""
    found: ShowPart = registry.part(kind, "show")
    return found
