"""Parts of a page: escaped text, tables with aligned figures, plots with their words, and the page around them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import accumulate
from pathlib import Path

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.figure_text import value_and_interval
from benchd.report.plots.palette import with_palette
from benchd.report.plots.picture import Picture
from benchd.report.words import SIMULATED, printable

CSS = Path(__file__).resolve().parent / "results_page.css"
_FIGURE_SPACE, _POINT_SPACE = "\u2007", "\u2008"
MANY_COLUMNS = 16
"""A table of more is set smaller on paper."""
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
    """One cell: its HTML, and whether it is a figure (aligned at the decimal point)."""

    html: str
    figure: bool = False


def text_cell(text: str) -> HtmlCell:
    """Words."""
    return HtmlCell(esc(text))


def number_cell(text: str) -> HtmlCell:
    """A number that is text already; on narrow paper only an interval may be broken, at its "to"."""
    return HtmlCell(re.sub(r"(?<! to) (?!to )", "\u00a0", esc(minus(text))), figure=True)


def minus(text: str) -> str:
    """Figures with a true minus sign."""
    return re.sub(r"(?<![\w.])-(?=[\d.])", "−", text)


def tied(text: str) -> str:
    """A sentence in which no line ends between a figure and its unit or its sign."""
    return re.sub(r"(?<=[<>±]) (?=\d)|(?<=\d) (?=(?:%|K|cd/m[2²])(?:\W|$))", "\u00a0", text)


def quantity_cells(quantity: Quantity, kind: str, *, sign: bool = False) -> tuple[HtmlCell, HtmlCell]:
    """The figure, and its expanded uncertainty or the two ends of its interval."""
    value, about = value_and_interval(quantity, kind, sign=sign)
    mark = "!" if quantity.plain and quantity.status != "ok" else ""
    return number_cell(mark + value), number_cell(about)


def aligned(cells: Sequence[HtmlCell]) -> list[str]:
    """The HTML of one column's cells: figures padded behind their point, so that points stand in a line."""
    # Two ends of an interval have no point to stand under.
    single = [cell.figure and " to " not in cell.html for cell in cells]
    tails = [len(cell.html.partition(".")[2]) if alone else 0 for cell, alone in zip(cells, single, strict=True)]
    most = max(tails, default=0)
    made = []
    for cell, tail, alone in zip(cells, tails, single, strict=True):
        pad = ""
        if alone and most and cell.html:
            pad = _FIGURE_SPACE * (most - tail) + ("" if tail else _POINT_SPACE)
        made.append(cell.html + pad)
    return made


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[HtmlCell]],
    *,
    caption: str,
    groups: Sequence[tuple[str, int]] = (),
    folded: bool | None = None,
) -> str:
    """A table; the first cell of each row is its head. ``groups``: (name, how many rows), in order.

    ``folded`` None: when it is long. Its caption says what it holds, for readers who hear it.
    """
    if not rows:
        return ""
    columns = [aligned([row[i] for row in rows]) for i in range(len(head))]
    kinds = ["figure" if any(row[i].figure for row in rows) else "words" for i in range(len(head))]
    heads = "".join(tag("th", esc(text), scope="col", class_=kind) for text, kind in zip(head, kinds, strict=True))
    begins = accumulate((size for _, size in groups), initial=0)
    starts = {at: name for at, (name, _) in zip(begins, groups, strict=False)}
    lines = []
    for r, (first, *others) in enumerate(zip(*columns, strict=True)):
        if r in starts:
            lines.append(tag("tr", tag("th", esc(starts[r]), scope="colgroup", colspan=str(len(head)), class_="group")))
        cells = (tag("td", cell, class_=kind) for cell, kind in zip(others, kinds[1:], strict=True))
        lines.append(tag("tr", tag("th", first, scope="row", class_=kinds[0]) + "".join(cells)))
    wide = ' class="wide"' if len(head) > MANY_COLUMNS else ""
    whole = (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{esc(caption)}"><table{wide}>'
        + tag("caption", esc(caption))
        + tag("thead", tag("tr", heads))
        + tag("tbody", "\n".join(lines))
        + "</table></div>"
    )
    if len(rows) > OPEN_ROWS if folded is None else folded:
        return f"<details><summary>{esc(caption)} ({len(rows)} rows)</summary>{whole}</details>"
    return whole


def plots_html(several: Iterable[Picture]) -> str:
    """Plots beside each other where there is room, each with its caption."""
    made = []
    for one in several:
        named = tag("strong", esc(one.plot.title)) + simulated_tag(one.plot.simulated)
        held = tag("small", esc(one.plot.conditions)) if one.plot.conditions else ""
        made.append(tag("figure", tag("figcaption", named + held) + one.inline, class_="plot"))
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
    return tag("dl", "".join(tag("dt", esc(name)) + tag("dd", esc(text)) for name, text in rows), class_="words")


def method(text: str) -> str:
    """How the figures above were had."""
    return tag("p", f"<b>How</b> {esc(text)}", class_="method") if text else ""


def warning(text: str) -> str:
    """A sentence that must not be missed."""
    return tag("p", esc(text), class_="warning")


def page(title: str, subtitle: str, inner: str, contents: Sequence[tuple[str, str]], *, simulated: bool) -> str:
    """The whole file: no script, no request, styles inside. ``contents``: (anchor, name) of each section."""
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
        '<meta name="color-scheme" content="light dark">\n'
        f"<title>{esc(head_title)}</title>\n<style>\n{with_palette(CSS)}</style>\n</head>\n<body>\n"
        f'<header>{banner}<h1>{esc(title)}</h1><p class="sub">{esc(subtitle)}</p></header>\n{navigation}\n'
        f"<main>\n{inner}\n</main>\n</body>\n</html>\n"
    )
