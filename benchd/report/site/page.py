"""The page as text: a table that stands without any script, the figures as data beside it, and what sorts and draws.

Everything is within the file. The policy in its head lets the browser run these scripts and styles only, by their
digests, and ask nobody for anything, so that a sample's name in a log can do no harm.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from pathlib import Path
from string import Template
from typing import Any

from benchd.distributions import t_quantile
from benchd.report.plots.palette import with_palette
from benchd.report.words import SIMULATED, by_reason, count

_FOLDER = Path(__file__).resolve().parent
_SCRIPTS = ("ranks.js", "drawings.js", "controls.js")
MAX_DOF = 200
MOST_FIGURES = 10
"""A table of more figures has no room on paper: each row is a paragraph there."""
_DIGITS = 9  # significant ones of figures in the data: more than any meter has


@dataclass(frozen=True, slots=True)
class SiteFigure:
    """A column of figures. ``better``: "highest", "lowest" or "neither"; ``conditions``: what all of them hold for."""

    name: str
    title: str
    unit: str
    better: str
    conditions: str = ""


@dataclass(frozen=True, slots=True)
class SiteCell:
    """One figure of one sample: as text, and as numbers for the plots; an end of the interval is None if unknown.

    ``parts`` of its standard uncertainty: source, signed amount, degrees of freedom (None: infinite); source 0 is what
    only this log has, any other is the same in every row. Empty where that is not known.
    """

    text: str
    value: float
    low: float | None
    high: float | None
    bound: str | None
    why: str = ""
    parts: tuple[tuple[int, float, float | None], ...] = ()


@dataclass(frozen=True, slots=True)
class SiteRow:
    """One log. ``cells`` in the order of the figures, None where absent; ``latest``: the newest of its sample."""

    rank: str
    sample: str
    model: str
    cells: tuple[SiteCell | None, ...]
    day: str
    plan: str
    note: str
    notice: str
    log: str
    simulated: bool
    latest: bool


@dataclass(frozen=True, slots=True)
class SitePage:
    """What the page shows. ``rows`` stand in the order of the figure named ``order``; ``remark``: on all ranks."""

    title: str
    figures: tuple[SiteFigure, ...]
    rows: tuple[SiteRow, ...]
    order: str
    version: str
    remark: str = ""


def render(page: SitePage) -> str:
    """The page as HTML."""
    style = f"{with_palette(_FOLDER / 'ranks.css')}\n{_names(page)}"
    script = "\n".join(_file(name) for name in _SCRIPTS)
    simulated = sum(row.simulated for row in page.rows)
    return Template(_file("ranks.html")).substitute(
        policy=_policy(style, script),
        style=style,
        script=script,
        data=_data(page),
        title=escape(page.title),
        mark=f"{SIMULATED} " if simulated else "",
        about=escape(_about(page)),
        simulated=_simulated(simulated, len(page.rows)),
        heads="".join(_heads(page)),
        look="cards" if len(page.figures) > MOST_FIGURES else "",
        rows="\n".join(_row(number, row) for number, row in enumerate(page.rows)),
        options="".join(f'<option value="{escape(one.name)}">{escape(_head(one))}</option>' for one in page.figures),
        version=escape(page.version),
        conditions="".join(_conditions(page)),
        remark=f'<p class="how">{escape(page.remark[0].upper() + page.remark[1:])}.</p>' if page.remark else "",
    )


def _file(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")


def _policy(style: str, script: str) -> str:
    def digest(text: str) -> str:
        return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()

    own = f"script-src 'sha256-{digest(script)}'; style-src 'sha256-{digest(style)}'"
    return f"default-src 'none'; base-uri 'none'; form-action 'none'; {own}"


def _about(page: SitePage) -> str:
    models = len({row.model for row in page.rows})
    days = sorted(row.day for row in page.rows if row.day)
    when = f", measured {days[0]}" + (f" to {days[-1]}" if days[-1] != days[0] else "") if days else ""
    return f"{count(len(page.rows), 'log')} of {count(models, 'model')}{when}"


def _simulated(simulated: int, rows: int) -> str:
    if not simulated:
        return ""
    whose = "every log here" if simulated == rows else f"{simulated} of {rows} logs here"
    return f'<p id="simulated"><strong>{SIMULATED}</strong> a simulator took part in {whose}</p>'


def _head(figure: SiteFigure) -> str:
    return f"{figure.title}, {figure.unit}" if figure.unit else figure.title


def _conditions(page: SitePage) -> Iterator[str]:
    """A list of the figures that hold for something, each with what that is; nothing where none does."""
    if named := dict(by_reason((one.conditions, one.title) for one in page.figures)):
        apart = "Figures that hold for different conditions have columns of their own."
        items = (f"<dt>{escape(', '.join(names))}</dt><dd>{escape(under)}</dd>" for under, names in named.items())
        inner = f'<p>{apart}</p><dl class="conditions">{"".join(items)}</dl>'
        yield f"<details><summary>What figures hold for</summary>{inner}</details>"


def _columns(page: SitePage) -> list[tuple[str, str, str, str]]:
    """What is sorted by each column: name, title, unit and class."""
    return [
        *(("sample", "Sample", "", "name"), ("remarks", "Remarks", "", "left remarks")),
        *((one.name, one.title, one.unit, "") for one in page.figures),
        *(("day", "Day", "", "left"), ("plan", "Plan", "", "left")),
    ]


def _names(page: SitePage) -> str:
    """Style that gives each cell the name of its column, for where it stands alone: on a phone, on paper."""
    titles = ["Rank", *(f"{title}, {unit}" if unit else title for _, title, unit, _ in _columns(page)), "Log"]
    lines = (f"#rows > tr > :nth-child({at}) {{ --name: {_css(one)}; }}" for at, one in enumerate(titles, 1))
    return "\n".join(lines) + "\n"


def _css(text: str) -> str:
    """A string of a style sheet that nothing can end: all but letters, digits and blanks are escapes."""
    return (
        '"'
        + "".join(one if one.isascii() and (one.isalnum() or one == " ") else f"\\{ord(one):x} " for one in text)
        + '"'
    )


def _heads(page: SitePage) -> Iterator[str]:
    yield '<th scope="col" class="rank">Rank</th>'
    first = next((one for one in page.figures if one.name == page.order), None)
    ascending = first is not None and first.better == "lowest"
    for name, title, unit, kind in _columns(page):
        order = ("ascending" if ascending else "descending") if name == page.order else "none"
        small = f" <small>{escape(unit)}</small>" if unit else ""
        yield (
            f'<th scope="col" aria-sort="{order}" class="{kind}"><button type="button" data-order="{escape(name)}">'
            f"{escape(title)}{small}</button></th>"
        )
    yield '<th scope="col" class="left">Log</th>'


def _row(number: int, row: SiteRow) -> str:
    cells = "".join('<td class="absent">–</td>' if cell is None else _cell(cell) for cell in row.cells)
    facts = "".join(f'<td class="left">{escape(text)}</td>' for text in (row.day, row.plan))
    notice = escape(row.notice).replace(SIMULATED, f'<b class="sim">{SIMULATED}</b>')
    name = f'<button type="button" class="mark" aria-pressed="false">{escape(row.sample)}</button>'
    parts = (
        f'<tr data-row="{number}"><td class="rank">{escape(row.rank)}</td>',
        f'<th scope="row" class="name" data-notice="{escape(row.notice)}">{name}</th>',
        f'<td class="left remarks">{notice}</td>{cells}{facts}<td class="left log">{escape(row.log)}</td></tr>',
    )
    return "".join(parts)


def _cell(cell: SiteCell) -> str:
    why = f' title="{escape(cell.why)}"' if cell.why else ""
    figure, bracket, interval = escape(cell.text).partition("(")
    ends = f"<span>{bracket}{interval}</span>" if bracket else ""  # a line may end before them and not within
    return f"<td{why}>{figure}{ends}</td>"


def _data(page: SitePage) -> str:
    """The figures as JSON that is safe within a script element."""
    rows: list[dict[str, Any]] = [
        {
            "sample": row.sample,
            "day": row.day,
            "plan": row.plan,
            "remarks": row.notice,
            "words": f"{row.sample} {row.plan} {row.note} {row.notice}".lower(),
            "simulated": row.simulated,
            "latest": row.latest,
            "figures": [None if cell is None else _numbers(cell) for cell in row.cells],
        }
        for row in page.rows
    ]
    figures = [{"name": one.name, "title": one.title, "unit": one.unit, "better": one.better} for one in page.figures]
    quantiles = [round(t_quantile(0.975, dof), 9) for dof in range(1, MAX_DOF + 1)]
    whole = {"order": page.order, "figures": figures, "rows": rows, "t": quantiles}
    text = json.dumps(whole, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _numbers(cell: SiteCell) -> list[Any]:
    """[value, low, high, bound, parts]; an end that is open or not known is null, and so are parts."""
    ends = [end if end is None or math.isfinite(end) else None for end in (cell.low, cell.high)]
    parts = [[source, _short(amount), _short(dof)] for source, amount, dof in cell.parts]
    return [*(_short(one) for one in (cell.value, *ends)), cell.bound, parts or None]


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.{_DIGITS}g}")
