"""A sweep as text: one row a point, the range of white, what is to be known of its settings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from benchd.analysis.log.room_note import ROOM, room_words
from benchd.analysis.measurement import in_order
from benchd.analysis.results import Absent, Results
from benchd.analysis.results_log import Setting, Sweep, SweepRow
from benchd.report.data.document import point_text
from benchd.report.figure_text import bare, figure
from benchd.report.terminal.sweep_colours import sweep_colour_lines, whites_of
from benchd.report.terminal.text_page import Page
from benchd.report.words import by_reason, columns, count, some

GAP = "  "
MAX_RANGES = 40
"""Rows of a table that the text shows; the data have them all."""


@dataclass(frozen=True, slots=True)
class SweepColumn:
    """A column: its two lines of head, the text of a point, and its rank (0 stays longest)."""

    head: tuple[str, str]
    text: Callable[[SweepRow], str]
    rank: int
    left: bool = False


def _setting(control: str, *, left: bool) -> SweepColumn:
    return SweepColumn(("", control), lambda row: _value(row.settings[control]), 0, left)


def _figure(head: tuple[str, str], name: str, unit: str, rank: int, *, sign: bool = False) -> SweepColumn:
    def text(row: SweepRow) -> str:
        quantity = row.quantity(name)
        return "-" if quantity is None else bare(quantity, unit, sign=sign)

    return SweepColumn(head, text, rank)


FIGURES = (
    _figure(("white", "cd/m2"), "white luminance", "cd/m2", 0),
    _figure(("black", "cd/m2"), "black luminance", "cd/m2", 1),
    _figure(("contrast", ":1"), "contrast", "1", 0),
    _figure(("white", "x"), "white x", "xy", 4),
    _figure(("white", "y"), "white y", "xy", 4),
    _figure(("CCT", "K"), "white CCT", "K", 0),
    _figure(("", "Duv"), "white Duv", "Duv", 3, sign=True),
    _figure(("dE00", "mean"), "grayscale delta E mean", "dE00", 0),
    _figure(("dE00", "maximum"), "grayscale delta E maximum", "dE00", 2),
    _figure(("gamma", "fit"), "gamma", "gamma", 2),
    SweepColumn(("", "faults"), lambda row: str(row.faults) if row.faults else "-", 0),
)

USUAL = ("white luminance", "black luminance", "contrast", "white CCT", "grayscale delta E mean", "gamma")
"""Of a sweep without any of these, the table has the figures that there are."""


def sweep_lines(sweep: Sweep, page: Page, *, details: bool) -> list[str]:
    """The section of a sweep; without ``details`` it says how the points' own figures are had."""
    over = " x ".join(sweep.controls)
    lines = page.heading("sweep", f"{over}, {count(len(sweep.rows), 'point')}")
    lines += _table(sweep, page) + _conventions(sweep, page) + sweep_colour_lines(sweep, page)
    lines += _ranges(sweep, page) + _conduct(sweep, page)
    lines += page.method(sweep.method)
    if not details:
        lines += page.prose("every figure of every point: benchd results LOG --details, --format json or --format csv")
    return lines


LIT = f"{ROOM} is more than a twentieth of the screen's black, or not known to be less: see black and contrast"


def sweep_remarks(results: Results, sweep: Sweep) -> list[str]:
    """What stands out at the points, in their blocks and rooms: a sentence each, with the points it holds for."""
    pairs = [
        (remark.partition(":")[0], one.block.rpartition("/")[0])
        for one in in_order(results)
        for remark in getattr(one, "remarks", ())
        if not room_words(remark)
    ]
    pairs += [(LIT, row.point) for row in sweep.rows if room_words(_why(row))]
    return [_at_points(text, several, sweep) for text, several in by_reason(pairs)]


def _why(row: SweepRow) -> str:
    return "; ".join(one.why for name in ("black luminance", "contrast") if (one := row.quantity(name)) is not None)


def _at_points(text: str, points: Sequence[str], sweep: Sweep) -> str:
    known = [point for point in points if point]
    every = len(known) == len(sweep.rows) > 1
    return text + (f" (at all {len(known)} points)" if every else f" (at {some(known)})" if known else "")


def absent_lines(absent: Sequence[Absent], sweep: Sweep, page: Page) -> list[str]:
    """What could not be had in a sweep: one line for each reason, the points that it holds for behind it."""
    points = {row.point for row in sweep.rows}
    lines: list[str] = []
    pairs = []
    for one in absent:
        point, _, rest = one.result.partition("/")
        pairs.append((f"{rest}: {one.why}", point) if point in points else (f"{one.result}: {one.why}", ""))
    for text, several in by_reason(pairs):
        lines += page.warning(_at_points(text, several, sweep))
    return lines


def _value(setting: Setting) -> str:
    return f"{setting:g}" if isinstance(setting, float) else str(setting)


def _table(sweep: Sweep, page: Page) -> list[str]:
    """One row a point. Columns without a figure are left out, and those of the highest rank until it fits."""
    settings = [
        _setting(name, left=any(isinstance(row.settings[name], str) for row in sweep.rows)) for name in sweep.controls
    ]
    table = [(column, [column.text(row) for row in sweep.rows]) for column in settings]
    table += [(column, cells) for column, cells in _cells(sweep.rows) if set(cells) - {"-"}]
    for rank in sorted({column.rank for column, _ in table if column.rank}, reverse=True):
        if sum(max(map(len, (*column.head, *cells))) + len(GAP) for column, cells in table) <= page.width:
            break
        table = [(column, cells) for column, cells in table if column.rank != rank]
    heads = [[column.head[number] for column, _ in table] for number in (0, 1)]
    body = [list(row) for row in zip(*(cells for _, cells in table), strict=True)]
    left = [number for number, (column, _) in enumerate(table) if column.left]
    return [f"  {row}" for row in columns([*heads, *body], left=left, gap=GAP)]


def _cells(rows: Sequence[SweepRow]) -> Iterable[tuple[SweepColumn, list[str]]]:
    found = {name: one for row in rows for name, one in row.figures.items()}
    own = () if any(row.quantity(name) for row in rows for name in USUAL) else found.values()
    columns = [_figure((one.name, f"({one.unit})"), one.name, one.unit, rank) for rank, one in enumerate(own)]
    return ((column, [column.text(row) for row in rows]) for column in (*columns, *FIGURES))


def _conventions(sweep: Sweep, page: Page) -> list[str]:
    whites = whites_of(sweep.rows, "grayscale delta E mean")
    return page.prose(f"dE00: CIEDE2000; white: {' or '.join(whites)}") if whites else []


def _ranges(sweep: Sweep, page: Page) -> list[str]:
    """Minimum and maximum white over each control of numbers."""
    if not sweep.ranges:
        return []
    rows = [["white luminance over", "with", "minimum", "", "maximum", ""]]
    for one in sweep.ranges[:MAX_RANGES]:
        ends = []
        for end, at in ((one.minimum, one.minimum_at), (one.maximum, one.maximum_at)):
            ends += [figure(end, "cd/m2", " cd/m2"), "" if at is None else f"at {_value(at)}"]
        rows.append([f"{one.control}, {count(one.points, 'point')}", point_text(one.others), *ends])
    alone = len(sweep.controls) == 1
    table = columns([[row[0], *row[2:]] if alone else row for row in rows], left=(0,) if alone else (0, 1))
    if max(map(len, table)) <= page.width - 2:
        lines = ["", *(f"  {row}" for row in table)]
    else:
        lines = [""]
        for over, others, *ends in rows[1:]:
            lines += page.prose(", ".join(filter(None, (f"white over {over}", others))) + f": {' '.join(ends)}")
    if len(sweep.ranges) > MAX_RANGES:
        lines += page.prose(f"and {len(sweep.ranges) - MAX_RANGES} more; the data have them all")
    for why, several in by_reason((one.missing, point_text(one.others)) for one in sweep.ranges):
        where = [point for point in several if point]
        lines += page.warning(f"incomplete: {why}" + (f" (at {some(where)})" if where else ""))
    return lines


def _conduct(sweep: Sweep, page: Page) -> list[str]:
    """What a reader must know of how the settings were made and kept."""
    lines: list[str] = []
    for words, parts in (
        ("set manually", [row.set_manually for row in sweep.rows]),
        ("set, and not read back: the display does not tell its value", [row.not_read_back for row in sweep.rows]),
    ):
        names = [name for name in sweep.controls if any(name in part for part in parts)]
        if names:
            lines += page.warning(f"{', '.join(names)}: {words}")
    for text in sweep.not_restored:
        lines += page.warning(f"the display was not left as it was found: {text}")
    troubled = [row for row in sweep.rows if row.control_faults]
    if troubled:
        several = [f"{row.point} ({row.control_faults})" for row in troubled]
        lines += page.warning(
            "faults of the display's controls, such as a setting that the display changed by itself, after which the "
            f"readings were made anew: {some(several)}"
        )
    return lines
