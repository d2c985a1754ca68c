"""Parts of a page: escaped text, tables with aligned figures, plots with their words, and the page around them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from html import escape
from itertools import islice
from pathlib import Path

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import value_and_interval
from benchd.report.plots.palette import with_palette
from benchd.report.plots.picture import place
from benchd.report.plots.plot import Plot
from benchd.report.words import SIMULATED, printable

CSS = Path(__file__).resolve().parent / "results_page.css"
_FIGURE_SPACE, _POINT_SPACE = "\u2007", "\u2008"
_TO = " to"
"""Between the two ends of an interval in a cell."""
MANY_COLUMNS, MORE_COLUMNS = 10, 13
"""A table of more is set smaller on a screen, and on paper."""
MOST_COLUMNS = 24
"""A table of more has no room on paper: each row is a paragraph there."""
SHORT = 12
"""Words of at most so many signs stay on one line."""
OPEN_ROWS = 14
"""A longer table is folded on the screen; paper has all of it."""


def esc(text: str) -> str:
    """``text`` for HTML. Signs that no page may hold stand as escapes (`benchd.report.words.printable`)."""
    return escape(printable(text, "\n\t"), quote=True)


def tag(name: str, inner: str, **attributes: str) -> str:
    """An element; ``inner`` is HTML already. ``class_`` is the attribute class."""
    written = "".join(f' {key.rstrip("_").replace("_", "-")}="{esc(value)}"' for key, value in attributes.items())
    return f"<{name}{written}>{inner}</{name}>"


@dataclass(frozen=True, slots=True)
class HtmlCell:
    """One cell: its HTML, and whether it is a figure (aligned at the decimal point).

    ``role``: "u" or "unit" ("again unit"), where it only completes the figure before it and needs no name of its own.
    """

    html: str
    figure: bool = False
    role: str = ""


def text_cell(text: str) -> HtmlCell:
    """Words."""
    return HtmlCell(tied(esc(text)))


def unit_cell(unit: str, *, again: bool = False) -> HtmlCell:
    """The unit of the figure before it; ``again``: shown only where the column that has it stands apart."""
    return HtmlCell(esc(unit), role="again unit" if again else "unit")


def number_cell(text: str) -> HtmlCell:
    """A number that is text already; no line ends within it, nor within its interval."""
    return HtmlCell(esc(minus(text)).replace(" ", "\u00a0"), figure=True)


def minus(text: str) -> str:
    """Figures with a true minus sign."""
    return re.sub(r"(?<![\w.])-(?=[\d.])", "−", text)


def tied(text: str) -> str:
    """A sentence in which no line ends between a figure and its unit or its sign, nor within an interval."""
    text = re.sub(r"(?<=\d) to (?=[-+−]?\d)", "\u00a0to\u00a0", text)
    return re.sub(r"(?<=[<>±]) (?=\d)|(?<=\d) (?=(?:%|K|±|cd/m[2²])(?:\W|$))", "\u00a0", text)


def quantity_cells(quantity: Quantity, kind: str, *, sign: bool = False) -> tuple[HtmlCell, HtmlCell]:
    """The figure, and its expanded uncertainty or the two ends of its interval."""
    value, about = value_and_interval(quantity, kind, sign=sign)
    mark = "!" if quantity.plain and quantity.status != "ok" else ""
    interval = number_cell(about)
    # Where columns are many a line may end before the upper end, else the last of them is out of sight.
    return number_cell(mark + value), replace(interval, html=interval.html.replace("\u00a0to", _TO), role="u")


def aligned(cells: Sequence[HtmlCell]) -> list[str]:
    """The HTML of one column's cells: figures padded behind their point, so that points stand in a line."""
    # Two ends of an interval have no point to stand under.
    single = [cell.figure and f"{_TO}\u00a0" not in cell.html for cell in cells]
    tails = [len(cell.html.partition(".")[2]) if alone else 0 for cell, alone in zip(cells, single, strict=True)]
    most = max(tails, default=0)
    made = []
    for cell, tail, alone in zip(cells, tails, single, strict=True):
        pad = ""
        if alone and most and cell.html:
            pad = _FIGURE_SPACE * (most - tail) + ("" if tail else _POINT_SPACE)
        made.append(cell.html + (f'<span class="pad">{pad}</span>' if pad else ""))
    return made


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[HtmlCell]],
    *,
    caption: str,
    groups: Sequence[tuple[str, int]] = (),
    folded: bool | None = None,
    look: str = "",
) -> str:
    """A table; the first cell of each row is its head. ``groups``: (name, how many rows), in order.

    ``folded`` None: when it is long. Its caption says what it holds, for readers who hear it. ``look`` "figures": on a
    phone a row is its name and its figure, and else each cell has a line of its own, with the head of its column. So
    that it stays a table there for readers who hear it, its parts say what they are.
    """
    if not rows:
        return ""
    columns = [aligned([row[i] for row in rows]) for i in range(len(head))]
    kinds = [_kind([row[i] for row in rows]) for i in range(len(head))]
    heads = "".join(
        tag("th", esc(text), role="columnheader", scope="col", class_=kind)
        for text, kind in zip(head, kinds, strict=True)
    )
    own = [f'<td role="cell" class="{kind}"{_label(text, kind)}>' for text, kind in zip(head, kinds, strict=True)]
    naming = _label(head[0], kinds[0]) if kinds[0] == "figure" else ""  # "13" alone names nothing
    bodies = []
    lines = iter(zip(*columns, strict=True))
    for name, size in groups or (("", len(rows)),):
        group = tag("th", esc(name), role="rowheader", scope="rowgroup", colspan=str(len(head)), class_="group")
        trs = [tag("tr", group, role="row")] if name else []
        for first, *others in islice(lines, size):
            named = f'<th role="rowheader" scope="row" class="{kinds[0]}"{naming}>{first}</th>'
            cells = (f"{begin}{cell}</td>" for begin, cell in zip(own[1:], others, strict=True))
            trs.append(f'<tr role="row">{named}{"".join(cells)}</tr>')
        bodies.append(tag("tbody", "\n".join(trs), role="rowgroup"))
    limits = {"wide": MANY_COLUMNS, "small": MORE_COLUMNS, "cards": MOST_COLUMNS}
    style = " ".join(filter(None, (look, *(name for name, most in limits.items() if len(head) > most))))
    inner = tag("caption", esc(caption)) + tag("thead", tag("tr", heads, role="row"), role="rowgroup") + "".join(bodies)
    made = tag("table", inner, role="table", **({"class_": style} if style else {}))
    whole = tag("div", made, class_="scroll", tabindex="0", role="region", aria_label=caption)
    if len(rows) > OPEN_ROWS if folded is None else folded:
        return folding(f"{caption} ({len(rows)} rows)", whole)
    return whole


def _kind(cells: Sequence[HtmlCell]) -> str:
    """Classes of a column."""
    role = next((cell.role for cell in cells if cell.role), "")
    if any(cell.figure for cell in cells):
        return f"figure {role}".rstrip()
    short = all(len(cell.html) <= SHORT for cell in cells)
    return f"words{' short' if short else ''} {role}".rstrip()


def _label(head: str, kind: str) -> str:
    """The head of its column, where a cell stands alone."""
    return "" if kind.endswith((" u", " unit")) else f' data-label="{esc(head)}"'


def folding(name: str, inner: str, **attributes: str) -> str:
    """What is unfolded when it is asked for; paper has it."""
    return tag("details", tag("summary", esc(name)) + inner, **attributes)


def plots_html(plots: Iterable[Plot]) -> str:
    """Places of plots beside each other where there is room, each with its caption."""
    made = []
    for plot in plots:
        named = tag("strong", esc(plot.title)) + simulated_tag(plot.simulated)
        held = tag("small", esc(plot.whose), class_="whose") if plot.whose else ""
        held += tag("small", esc(plot.conditions)) if plot.conditions else ""
        made.append(tag("figure", tag("figcaption", named + held) + place(plot), class_="plot"))
    return tag("div", "\n".join(made), class_="plots") if made else ""


def simulated_tag(simulated: bool) -> str:
    """The word beside whatever a simulator took part in."""
    return f' <span class="sim">{SIMULATED}</span>' if simulated else ""


def section(name: str, title: str, inner: str, *, simulated: bool, level: int = 2) -> str:
    """A section with its heading; nothing when there is nothing in it."""
    if not inner:
        return ""
    heading = tag(f"h{level}", esc(title) + simulated_tag(simulated))
    return tag("section", f"{heading}\n{inner}", id=name)


def words(rows: Sequence[tuple[str, str]]) -> str:
    """Names and texts."""
    return tag("dl", "".join(tag("dt", esc(name)) + tag("dd", tied(esc(text))) for name, text in rows), class_="words")


Defined = dict[tuple[str, ...], tuple[str, str]]
"""Definitions that a page has already -> anchor and name of where they stand."""


def definitions(texts: Sequence[str], name: str, anchor: str, known: Defined) -> str:
    """What the figures of a section mean and how they were had; nobody needs it to read them, so it is folded.

    Those that a section before has too are named by it.
    """
    several = tuple(dict.fromkeys(texts))
    if not several:
        return ""
    if several in known:
        where, of = known[several]
        return tag("p", "Definitions and methods: as of " + tag("a", esc(of), href=f"#{where}"), class_="method")
    known[several] = (f"{anchor}-how", name)
    said = "".join(tag("p", tied(esc(text)), class_="method") for text in several)
    return folding(f"Definitions and methods: {name}", said, id=f"{anchor}-how", class_="how")


def warning(text: str) -> str:
    """A sentence that must not be missed."""
    return tag("p", tied(esc(text)), class_="warning")


def page(
    title: str, subtitle: str, inner: str, contents: Sequence[tuple[str, str]], *, made_by: str, simulated: bool
) -> str:
    """The whole file: no script, no request, styles inside. ``contents``: (anchor, name) of each section.

    ``made_by``: the command, by which it knows its own earlier page.
    """
    banner = ""
    if simulated:
        about = "a simulator took part in these figures. They say nothing of any real display."
        banner = f'<p class="banner" role="note"><strong>{SIMULATED}</strong> {about}</p>'
    links = "".join(tag("li", tag("a", esc(name), href=f"#{anchor}")) for anchor, name in contents)
    navigation = tag("nav", tag("ol", links), aria_label="Contents") if len(contents) > 1 else ""
    head_title = f"{SIMULATED} {title}" if simulated else title
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
        f'<meta name="generator" content="benchd {made_by}">\n<meta name="color-scheme" content="light dark">\n'
        f"<title>{esc(head_title)}</title>\n<style>\n{with_palette(CSS)}</style>\n</head>\n<body>\n"
        f'<header>{banner}<h1>{esc(title)}</h1><p class="sub">{esc(subtitle)}</p></header>\n{navigation}\n'
        f"<main>\n{inner}\n</main>\n</body>\n</html>\n"
    )
