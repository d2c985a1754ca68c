"""A plot as a picture: laid out and drawn once, as an SVG file, an element of a page and a PNG file.

The same figures always give the same bytes. What makes pixels is imported when the first PNG file is written.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from functools import partial
from html import escape

from benchd.parallel import Spread
from benchd.report.drawing.axes import Across, Axes
from benchd.report.drawing.layout import EDGE, height_of, laid_out
from benchd.report.drawing.png_file import png_file
from benchd.report.drawing.shapes import Box, Layer, Place, Shape, Text
from benchd.report.drawing.svg_file import svg_shapes
from benchd.report.drawing.typeface import FAMILY, LINE, MIDDLE, Lines, broken
from benchd.report.plots.plot import COLOURS, DOTS_PER_INCH, ON_PAGE, WIDTH_IN, Ink, Plot
from benchd.report.words import SIMULATED

_TITLE, _SMALL = 11.0, 7.0
"""Type of the title and of the conditions below."""
_POINTS = 72.0
"""Of an inch: the unit of an SVG file."""
_MARK_TURN = 24.0


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


class Drawing:
    """Plots that are drawn while something else is done; what comes of it are the pictures, once all are ready."""

    def __init__(self, plots: Sequence[Plot], *, png: bool = True) -> None:
        self._plots, self._png = plots, png
        self._made: list[Picture] = []
        self._open = ExitStack()

    def __enter__(self) -> Drawing:
        if self._plots:
            with self._open:
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
    axes = Axes()
    plot.draw(axes)
    width = _POINTS * plot.width_in
    height = height_of(axes, (width, _POINTS * plot.height_in))
    body = laid_out(axes, (width, height), COLOURS, partial(_mark, plot) if plot.simulated else _nothing)
    head = _strip(plot.title, _TITLE, Ink.text, width, "middle")
    foot = _strip(plot.conditions, _SMALL, Ink.faint, width)
    total = head.height + height + foot.height
    words, svg = _words(plot), svg_shapes(body, plot.name)
    file = _FILE.format(
        width=width,
        height=total,
        family=FAMILY,
        title=escape(words["Title"], quote=False),
        text=escape(words["Description"], quote=False),
        paper=Ink.paper,
        head=svg_shapes([head.layer], f"{plot.name}-head"),
        above=head.height,
        body=svg,
        under=head.height + height,
        foot=svg_shapes([foot.layer], f"{plot.name}-foot"),
    )
    whole = [(0.0, head.layer), *((head.height, one) for one in body), (head.height + height, foot.layer)]
    return file, _inline(plot, svg, (width, height)), _png(whole, (width, total), words) if png else b""


def _png(layers: Sequence[tuple[float, Layer]], size: tuple[float, float], words: Mapping[str, str]) -> bytes:
    from benchd.report.drawing.pixels import pixels

    colours, columns = pixels(layers, size, DOTS_PER_INCH / _POINTS, Ink.paper)
    return png_file(colours, columns, DOTS_PER_INCH, words)


_FILE = """<?xml version="1.0" encoding="utf-8"?>
<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}pt" height="{height:g}pt" viewBox="0 0 {width:g} {height:g}" \
version="1.1" style="font-family:{family}">
<title>{title}</title>
<desc>{text}</desc>
<rect width="100%" height="100%" style="fill:{paper}"/>
{head}
<g transform="translate(0 {above:g})">
{body}
</g>
<g transform="translate(0 {under:g})">
{foot}
</g>
</svg>
"""


@dataclass(frozen=True, slots=True)
class _Strip:
    """What a file has above or below of what a page shows: lines of text, and their height in points."""

    layer: Layer
    height: float


def _strip(text: str, size: float, colour: str, width: float, across: Across = "start") -> _Strip:
    lines = Lines(broken(text, size, width - 2.0 * EDGE), size)
    x = width / 2.0 if across == "middle" else EDGE
    texts = [Text(line, (x, EDGE + down), size, colour, across) for line, down in lines.bases()]
    return _Strip(Layer(texts), EDGE + len(texts) * LINE * size if texts else 0.0)


def _words(plot: Plot) -> dict[str, str]:
    """What the files say of themselves to who can't see them."""
    said = f"{SIMULATED} {plot.text}" if plot.simulated else plot.text
    return {"Title": plot.title, "Description": said}


def _nothing(box: Box) -> Sequence[Shape]:
    return ()


def _mark(plot: Plot, box: Box) -> Sequence[Shape]:
    """SIMULATED large and pale over all that is drawn in the axes, so that no part can be cut out without it.

    On cells and bars it is light on dark, to be seen on any shade; but every number and label stands above it.
    """
    size = 34.0 * plot.width_in / WIDTH_IN
    layers = ((Ink.text, 0.005), (Ink.paper, 0.0)) if plot.filled else ((Ink.rule, 0.0),)
    # Turned around its base line, so that a third of its height is on each side of the middle.
    turn = math.radians(_MARK_TURN)
    down, right = MIDDLE * size * math.cos(turn), MIDDLE * size * math.sin(turn)
    middle = (box.left + box.right) / 2.0 + right, (box.top + box.bottom) / 2.0 + down
    return [
        Text(
            SIMULATED,
            (middle[0] + aside * box.width, middle[1] + aside * box.height),
            size,
            colour,
            "middle",
            _MARK_TURN,
            0.3,
        )
        for colour, aside in layers
    ]


def _inline(plot: Plot, body: str, points: Place) -> str:
    """The element for a page: in the page's colours and type.

    The title, the conditions and what it shows are for the page's own caption and the element's label.
    """
    for colour, name in ON_PAGE.items():
        body = body.replace(colour, f"var({name})")
    size = f"{points[0]:g} {points[1]:g}"
    about = f'role="img" aria-label="{escape(_words(plot)["Description"])}" viewBox="0 0 {size}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {about} style="font-family:var(--plain)">\n{body}\n</svg>'
