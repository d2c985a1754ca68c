"""A plot as a picture: laid out and drawn once, as an SVG file, an element of a page and a PNG file.

The same figures always give the same bytes. Drawn with matplotlib's object interface; matplotlib is imported when the
first plot is drawn.
"""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from typing import Any

from benchd.parallel import Spread
from benchd.report.plots.plot import DOTS_PER_INCH, ON_PAGE, SCALE, WIDTH_IN, Ink, Plot
from benchd.report.words import SIMULATED

_SIGNS_PER_IN = 11.25
"""So many signs of a title are an inch wide."""
_TITLE, _SMALL, _TITLE_PER_SMALL = 11.0, 7.0, 1.65
"""Type of the title and of the conditions below, and how many more signs of the smaller are as wide."""
_LINE = 1.2
_EDGE_IN = 0.05
_POINTS = 72.0
"""Of an inch: the unit of an SVG file."""
_HEAD, _FOOT = "head", "foot"
_OVER_DATA = 10


@dataclass(frozen=True, slots=True)
class Picture:
    """A plot that is drawn: ``svg`` and ``png`` are whole files, ``inline`` the element for a page.

    On a page title and conditions are the page's own, so ``inline`` has none. ``png`` is empty where only a page was
    asked for.
    """

    plot: Plot
    svg: str
    inline: str
    png: bytes


def pictures(plots: Sequence[Plot], *, png: bool = True) -> list[Picture]:
    """The plots drawn, in their order; ``png`` False leaves the PNG files out, which are a third of the work."""
    with Drawing(plots, png=png) as drawing:
        return list(drawing)


def load_library() -> None:
    """Import what draws, which takes as long as a few plots: it can be done while something else is computed."""
    import benchd.report.plots.library  # noqa: F401


class Drawing:
    """Plots that are drawn while something else is done; what comes of it are the pictures, once all are ready."""

    def __init__(self, plots: Sequence[Plot], *, png: bool = True) -> None:
        self._plots, self._png = plots, png
        self._made: list[Picture] = []
        self._open = ExitStack()

    def __enter__(self) -> Drawing:
        if self._plots:
            with self._open:
                self._open.enter_context(_style())
                self._begun = self._open.enter_context(Spread(partial(_drawn, png=self._png), self._plots))
                self._open = self._open.pop_all()
        return self

    def __exit__(self, *exc_info: object) -> None:
        self._open.close()

    def __iter__(self) -> Iterator[Picture]:
        if self._plots and not self._made:
            made = self._begun.results()
            self._made = [Picture(plot, *files) for plot, files in zip(self._plots, made, strict=True)]
        return iter(self._made)


def place(plot: Plot) -> str:
    """Stands on a page where the plot will be."""
    return f"\0{plot.name}\0"


def with_pictures(page: str, drawn: Iterable[Picture]) -> str:
    """The page with its plots in their places."""
    inline = {one.plot.name: one.inline for one in drawn}
    return re.sub("\0([^\0]+)\0", lambda found: inline[found[1]], page)


def _drawn(plot: Plot, *, png: bool) -> tuple[str, str, bytes]:
    """What a `Picture` has beside its plot."""
    from benchd.report.plots.library import Figure, Renderer, matplotlib

    matplotlib.rcParams["svg.hashsalt"] = plot.name
    signs = round(_SIGNS_PER_IN * plot.width_in)
    head, foot = _Strip(plot.title, signs, _TITLE), _Strip(plot.conditions, round(signs * _TITLE_PER_SMALL), _SMALL)
    height_in = plot.height_in + head.height_in + foot.height_in
    figure = Figure(figsize=(plot.width_in, height_in), dpi=_POINTS)
    plot.draw(figure)
    if plot.simulated:
        _mark(figure, plot)
    edge = _EDGE_IN / height_in
    figure.text(0.5, 1.0 - edge, head.text, fontsize=_TITLE, ha="center", va="top", gid=_HEAD)
    figure.text(0.01, edge, foot.text, fontsize=_SMALL, color=Ink.faint, va="bottom", gid=_FOOT)
    out, words = io.StringIO(), _words(plot)
    renderer = Renderer(plot.width_in * _POINTS, height_in * _POINTS, out, words, DOTS_PER_INCH if png else 0)
    _fit(figure, renderer, head.height_in, foot.height_in)
    figure.draw(renderer)
    renderer.finalize()
    svg = out.getvalue()
    return svg, _inline(plot, svg, head.height_in), renderer.png(words) if png else b""


class _Strip:
    """What a file has above or below of what a page shows: lines of text and their height."""

    def __init__(self, text: str, signs: int, size: float) -> None:
        lines = textwrap.wrap(text, signs, break_on_hyphens=False)
        self.text = "\n".join(lines)
        self.height_in = (_EDGE_IN + len(lines) * _LINE * size / _POINTS) if lines else 0.0


def _words(plot: Plot) -> dict[str, str]:
    """What the files say of themselves to who can't see them."""
    said = f"{SIMULATED} {plot.text}" if plot.simulated else plot.text
    return {"Title": plot.title, "Description": said}


def _mark(figure: Any, plot: Plot) -> None:
    """SIMULATED once large and pale in each axes, so that no part of the plot can be cut out without it.

    It lies over all that is drawn there, on cells and bars light on dark, to be seen on any shade; but every number and
    label stands above it.
    """
    drawn = [axes for axes in figure.axes if axes.get_label() != SCALE]
    style = {"ha": "center", "va": "center", "rotation": 24, "alpha": 0.3, "clip_on": True, "in_layout": False}
    style |= {"fontsize": 34.0 * plot.width_in / WIDTH_IN, "zorder": _OVER_DATA}
    layers = ((Ink.text, 0.005), (Ink.paper, 0.0)) if plot.filled else ((Ink.rule, 0.0),)
    for axes in drawn:
        for label in axes.texts:
            label.set_zorder(_OVER_DATA + 1)
        for colour, aside in layers:
            axes.text(0.5 + aside, 0.5 - aside, SIMULATED, transform=axes.transAxes, color=colour, **style)
    if not drawn:
        figure.text(0.54, 0.54, SIMULATED, color=Ink.rule, **(style | {"zorder": -1}))


def _fit(figure: Any, renderer: Any, head_in: float, foot_in: float) -> None:
    """The axes as large as their labels, the title and the conditions let them be.

    Of one axes, with its scale, one look at the labels is enough, where matplotlib's layouts take two, unless other
    ticks come of the new size, or a legend is wider than the axes, and stands out less when these grow.
    """
    from matplotlib.layout_engine import ConstrainedLayoutEngine
    from matplotlib.transforms import Bbox

    width, height = figure.bbox.size
    edge, head, foot = (one * _POINTS for one in (_EDGE_IN, head_in, foot_in))
    body = 1.0 - (head + foot) / height
    if sum(axes.get_label() != SCALE for axes in figure.axes) > 1:
        ConstrainedLayoutEngine(rect=(0.0, foot / height, 1.0, body)).execute(figure)
        return
    left, bottom, right, top = _PLACE
    figure.subplots_adjust(left, foot / height + bottom * body, right, foot / height + top * body)
    for _ in range(3 if figure.axes else 0):
        outer = Bbox.union([_outer(axes, renderer) for axes in figure.axes])
        inner = Bbox.union([axes.bbox for axes in figure.axes])
        ticks = _ticks(figure)
        beside = outer.x1 - inner.x1
        figure.subplots_adjust(
            min((inner.x0 - outer.x0 + edge) / width, 0.6),
            min((inner.y0 - outer.y0 + edge + foot) / height, 0.4),
            max(1.0 - (beside + edge) / width, 0.7),
            max(1.0 - (outer.y1 - inner.y1 + edge + head) / height, 0.5),
        )
        legends = filter(None, (axes.get_legend() for axes in figure.axes))
        wide = any(one.get_window_extent(renderer).x1 > inner.x1 for one in legends)
        if not wide and ticks == _ticks(figure):
            return


_PLACE = (0.14, 0.16, 0.97, 0.9)
"""Where the axes are when the labels are first looked at: left, bottom, right, top, as parts of width and height."""


def _outer(axes: Any, renderer: Any) -> Any:
    """The axes with their labels, legend and texts; what is drawn is not looked at, since it ends where they end."""
    outside = [one for one in (*axes.texts, axes.get_legend()) if one is not None and one.get_in_layout()]
    return axes.get_tightbbox(renderer, for_layout_only=True, bbox_extra_artists=outside)


def _ticks(figure: Any) -> list[int]:
    """How many signs the longest label of each vertical axis has: all that a layout depends on."""
    several = (axes.yaxis.get_major_formatter().format_ticks(axes.yaxis.get_majorticklocs()) for axes in figure.axes)
    return [max(map(len, labels), default=0) for labels in several]


def _inline(plot: Plot, svg: str, head_in: float) -> str:
    """The element for a page: in the page's colours and type, its identifiers its own.

    The title, the conditions and what it shows are for the page's own caption and the element's label.
    """
    text = svg[svg.index("<svg") :]
    text = re.sub(r"\s*(<title>.*?</title>|<metadata>.*?</metadata>)", "", text, flags=re.DOTALL)
    text = re.sub(rf'\s*<g id="({_HEAD}|{_FOOT})">.*?</g>', "", text, flags=re.DOTALL)
    for colour, name in ON_PAGE.items():
        text = text.replace(colour, f"var({name})")
    text = re.sub(r'\bid="([^"]+)"', rf'id="{plot.name}-\1"', text)
    text = re.sub(r'(url\(|href=")#', rf"\1#{plot.name}-", text)
    text = re.sub(r"font-family: [^;\"]+", "font-family: var(--plain)", text)
    label = _escaped(_words(plot)["Description"])
    size = f"{plot.width_in * _POINTS:g} {plot.height_in * _POINTS:g}"
    about = f'role="img" aria-label="{label}" viewBox="0 {head_in * _POINTS:g} {size}"'
    return re.sub(r'width="[\d.]+pt" height="[\d.]+pt" viewBox="[^"]+"', about, text, count=1)


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;").replace(">", "&gt;")


@contextmanager
def _style() -> Iterator[None]:
    """matplotlib with our settings and nobody else's, for as long as plots are drawn."""
    from benchd.report.plots.library import matplotlib

    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(
            {
                "svg.fonttype": "none",
                "font.size": 10.0,
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
        yield
