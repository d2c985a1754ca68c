"""A plot before it is drawn (`benchd.report.plots.picture`), and how all of them look.

Every colour of `Ink` stands for one thing alone, so that a page can exchange it for one of its own, light or dark.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from benchd.report.drawing.axes import Axes, Dash
from benchd.report.drawing.shapes import Neutrals
from benchd.report.words import point_of

WIDTH_IN, HEIGHT_IN = 4.8, 3.25
DOTS_PER_INCH = 200


class Ink:
    """Colours on white paper. The series are told apart by colour-blind readers (after Okabe and Ito, 2008,

    from memory) and by their marks and dashes as well.
    """

    text = "#1a1a1b"
    faint = "#545455"
    rule = "#767677"
    fine = "#dededf"
    paper = "#fffffe"
    target = "#6b6b6c"
    red = "#b8321f"
    green = "#14794a"
    blue = "#2458b8"
    series = ("#0a5fa8", "#c25400", "#00795a", "#a03d80", "#7a6a00", "#4b4b9c")


COLOURS = Neutrals(Ink.text, Ink.faint, Ink.rule, Ink.fine, Ink.paper)
"""Of all that is not a figure."""
DASHES: tuple[Dash, ...] = ((), (5, 2), (2, 1.5), (6, 2, 1.5, 2), (1, 1.5), (8, 3))

ON_PAGE = {
    Ink.text: "--ink",
    Ink.faint: "--faint",
    Ink.rule: "--edge",
    Ink.fine: "--fine",
    Ink.paper: "--paper",
    Ink.target: "--target",
    Ink.red: "--red",
    Ink.green: "--green",
    Ink.blue: "--blue",
    **{colour: f"--series-{number}" for number, colour in enumerate(Ink.series, 1)},
}
"""Colour on paper -> the page's own property for it."""


@dataclass(frozen=True, slots=True)
class Plot:
    """One plot. ``name`` is its file's; ``text`` says in words what it shows, for who can't see it.

    ``draw`` fills empty axes. ``filled``: what it draws hides what is behind it.
    ``under``: title of the part of its section that it belongs to (`benchd.report.model.Heading`); "": the section's.
    ``conditions``: whose figures they are and how they were had, for a file that may be shown alone.
    ``whose``: the sample and the day alone, for a page that has the conditions once; "": all of them stand there.
    """

    name: str
    title: str
    text: str
    draw: Callable[[Axes], None]
    simulated: bool
    width_in: float = WIDTH_IN
    height_in: float = HEIGHT_IN
    filled: bool = False
    under: str = ""
    conditions: str = ""
    whose: str = ""


def at_settings(plots: Sequence[Plot], block: str) -> list[Plot]:
    """The plots of a block, which in a sweep say at which settings it stood: a plot's file may be shown alone."""
    point = point_of(block).replace(",", ", ")
    if not point:
        return list(plots)
    return [replace(plot, title=f"{plot.title}, {point}", text=f"At {point}: {plot.text}") for plot in plots]


def span(values: Sequence[float], least: float) -> tuple[float, float]:
    """Ends of an axis around ``values``, at least ``least`` from end to end, with a margin."""
    low, high = min(values), max(values)
    room = max(least - (high - low), 0.0) / 2 + 0.06 * max(high - low, least)
    return low - room, high + room
