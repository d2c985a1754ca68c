"""A plot as SVG or PNG: how all of them look, and that the same figures always give the same bytes.

Drawn with matplotlib's object interface; matplotlib is imported when the first plot is drawn. Every colour of
`Ink` stands for one thing alone, so that a page can exchange it for one of its own, light or dark.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from typing import Any

from benchd.report.words import SIMULATED

WIDTH_IN, HEIGHT_IN = 4.8, 3.25
DOTS_PER_INCH = 200
_TITLE_SIGNS = 54
"""So many of a title are as wide as a plot of `WIDTH_IN`."""
_SMALL, _TITLE_PER_SMALL = 7.0, 1.65
"""Type of the conditions below a plot, and how many more of its signs than of a title's are as wide."""
_OVER_DATA = 10
SCALE = "scale"
"""Label of axes that hold no data but a colour scale."""


class Ink:
    """Colours on white paper. The series are told apart by colour-blind readers (after Okabe and Ito, 2008,

    from memory) and by their marks and dashes as well.
    """

    text = "#1a1a1b"
    faint = "#545455"
    rule = "#a6a6a7"
    fine = "#dededf"
    paper = "#fffffe"
    target = "#6b6b6c"
    red = "#b8321f"
    green = "#14794a"
    blue = "#2458b8"
    series = ("#0a5fa8", "#c25400", "#00795a", "#a03d80", "#7a6a00", "#4b4b9c")


MARKS = ("o", "s", "^", "D", "v", "P")
DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (1, 1.5)), (0, (8, 3)))

ON_PAGE = {
    Ink.text: "--ink",
    Ink.faint: "--faint",
    Ink.rule: "--rule",
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

    ``draw`` gets an empty matplotlib figure of the given size. ``filled``: what it draws hides what is behind it.
    ``under``: title of the part of its section that it belongs to (`benchd.report.model.Heading`); "": the section's.
    ``conditions``: whose figures they are and how they were had, for a file that may be shown alone.
    """

    name: str
    title: str
    text: str
    draw: Callable[[Any], None]
    simulated: bool
    width_in: float = WIDTH_IN
    height_in: float = HEIGHT_IN
    filled: bool = False
    under: str = ""
    conditions: str = ""


def at_settings(plots: Sequence[Plot], block: str) -> list[Plot]:
    """The plots of a block, which in a sweep say at which settings it stood: a plot's file may be shown alone."""
    point = block.rpartition("/")[0].replace(",", ", ")
    if not point:
        return list(plots)
    return [replace(plot, title=f"{plot.title}, {point}", text=f"At {point}: {plot.text}") for plot in plots]


def to_files(plot: Plot) -> tuple[str, bytes]:
    """One drawing as a whole SVG file, its text kept as text, and as a PNG file of `DOTS_PER_INCH`."""
    with _style(plot) as figure_of:
        from matplotlib.backends.backend_agg import FigureCanvasAgg

        figure = figure_of(titled=True)
        svg = _svg(figure, plot)
        figure.set_layout_engine("none")  # it has found its places, which is half of the work
        figure.dpi = DOTS_PER_INCH  # an SVG file is drawn at its own
        png = io.BytesIO()
        FigureCanvasAgg(figure).print_png(png, metadata={"Software": None, **_words(plot)})
        return svg, png.getvalue()


def to_inline_svg(plot: Plot) -> str:
    """An ``svg`` element for a page: in the page's colours and type, its identifiers its own, no title in it.

    The title and what it shows are for the page's own caption and the element's label.
    """
    with _style(plot) as figure_of:
        text = _svg(figure_of(titled=False), plot)
    text = text[text.index("<svg") :]
    text = re.sub(r"\s*(<title>.*?</title>|<metadata>.*?</metadata>)", "", text, flags=re.DOTALL)
    for colour, name in ON_PAGE.items():
        text = text.replace(colour, f"var({name})")
    text = re.sub(r'\bid="([^"]+)"', rf'id="{plot.name}-\1"', text)
    text = re.sub(r'(url\(|href=")#', rf"\1#{plot.name}-", text)
    text = re.sub(r"font-family: [^;\"]+", "font-family: var(--plain)", text)
    label = _escaped(_words(plot)["Description"])
    return re.sub(r'width="[\d.]+pt" height="[\d.]+pt"', f'role="img" aria-label="{label}"', text, count=1)


def _svg(figure: Any, plot: Plot) -> str:
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out = io.StringIO()
    FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None, "Creator": None, **_words(plot)})
    return out.getvalue()


def _words(plot: Plot) -> dict[str, str]:
    """What the file says of itself to who can't see it."""
    said = f"{SIMULATED} {plot.text}" if plot.simulated else plot.text
    return {"Title": plot.title, "Description": said}


class _style(AbstractContextManager["_style"]):
    """matplotlib with our settings and nobody else's, for the time of one plot."""

    def __init__(self, plot: Plot) -> None:
        self._plot = plot

    def __enter__(self) -> _style:
        import matplotlib

        self._context = matplotlib.rc_context()
        self._context.__enter__()
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(
            {
                "svg.fonttype": "none",
                "svg.hashsalt": self._plot.name,
                "font.size": 10.0,
                "figure.dpi": DOTS_PER_INCH,
                "axes.edgecolor": Ink.rule,
                "axes.labelcolor": Ink.faint,
                "axes.spines.top": False,
                "axes.spines.right": False,
                "axes.grid": True,
                "axes.axisbelow": True,
                "axes.unicode_minus": True,
                "grid.color": Ink.fine,
                "grid.linewidth": 0.7,
                "text.color": Ink.text,
                "xtick.color": Ink.rule,
                "ytick.color": Ink.rule,
                "xtick.labelcolor": Ink.faint,
                "ytick.labelcolor": Ink.faint,
                "legend.frameon": False,
                "legend.fontsize": 9.2,
                "legend.handlelength": 2.4,
                "lines.linewidth": 1.3,
                "lines.markersize": 4.2,
                "figure.facecolor": Ink.paper,
                "axes.facecolor": "none",
            }
        )
        return self

    def __exit__(self, *reason: object) -> None:
        self._context.__exit__(None, None, None)

    def __call__(self, *, titled: bool) -> Any:
        from matplotlib.figure import Figure

        plot = self._plot
        figure = Figure(figsize=(plot.width_in, plot.height_in), layout="constrained")
        plot.draw(figure)
        if titled:
            signs = round(_TITLE_SIGNS * plot.width_in / WIDTH_IN)
            figure.suptitle(textwrap.fill(plot.title, signs, break_on_hyphens=False), fontsize=11, color=Ink.text)
            below = textwrap.fill(plot.conditions, round(signs * _TITLE_PER_SMALL), break_on_hyphens=False)
            figure.supxlabel(below, x=0.01, ha="left", fontsize=_SMALL, color=Ink.faint)
        if plot.simulated:
            _mark(figure, plot)
        return figure


def _mark(figure: Any, plot: Plot) -> None:
    """SIMULATED once large and pale in each axes, so that no part of the plot can be cut out without it.

    It lies over all that is drawn there, on cells and bars light on dark, to be seen on any shade; but every number and
    label stands above it.
    """
    drawn = [axes for axes in figure.axes if axes.get_label() != SCALE]
    style = {"ha": "center", "va": "center", "rotation": 24, "alpha": 0.3, "clip_on": True, "zorder": _OVER_DATA}
    style["fontsize"] = 34.0 * plot.width_in / WIDTH_IN
    layers = ((Ink.text, 0.005), (Ink.paper, 0.0)) if plot.filled else ((Ink.rule, 0.0),)
    for axes in drawn:
        for label in axes.texts:
            label.set_zorder(_OVER_DATA + 1)
        for colour, aside in layers:
            axes.text(0.5 + aside, 0.5 - aside, SIMULATED, transform=axes.transAxes, color=colour, **style)
    if not drawn:
        figure.text(0.54, 0.54, SIMULATED, color=Ink.rule, **(style | {"zorder": -1}))


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;").replace(">", "&gt;")


def legend(axes: Any, *, columns: int = 0) -> None:
    """The legend above the axes, clear of every mark."""
    handles, labels = axes.get_legend_handles_labels()
    if labels:
        axes.legend(
            handles,
            labels,
            loc="lower left",
            bbox_to_anchor=(0.0, 1.0),
            ncols=max(1, min(columns or 3, len(labels), int(_SIGNS / (max(map(len, labels)) + 6)))),
            borderaxespad=0.2,
            columnspacing=1.4,
        )


_SIGNS = 50
"""So many signs of a legend are as wide as a plot; beside each name there is its mark."""


def span(values: Sequence[float], least: float) -> tuple[float, float]:
    """Ends of an axis around ``values``, at least ``least`` from end to end, with a margin."""
    low, high = min(values), max(values)
    room = max(least - (high - low), 0.0) / 2 + 0.06 * max(high - low, least)
    return low - room, high + room
