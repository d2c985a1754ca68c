"""A summary as text: one screen of 22 lines of 80 columns at most, whatever the plan.

What has no room is left out in this order: the last line that says SIMULATED (the first one stays), remarks but the
foremost, empty lines, figures beside a line's own, further lines of a block, blocks. Remarks and blocks are counted
then. What must not be missed is never left out, nor the foremost remark, the sign of a bound, an interval.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from benchd.report.brief import MAX_NAME, BriefFigure, BriefLine
from benchd.report.data.log_reference import LogReference
from benchd.report.figure_text import figure
from benchd.report.summary import BlockLines, Summary
from benchd.report.terminal.text_page import Page
from benchd.report.units import behind
from benchd.report.words import count, first_clauses, paint, printable, shortened, wrapped

WIDTH, LINES, CHECK_LINES = 80, 22, 6
MAX_WARNINGS = 4
NAME, FIGURE = 19, 18
"""The columns of names and of figures are so wide at most; what is longer moves the rest of its own line."""
STAND_OUT = 3
"""So many remarks at most; further ones are counted."""


class _Way(NamedTuple):
    """How a screen is filled: so many remarks and empty lines; SIMULATED in the last line too? Must all that stands
    beside a figure be there? Is it said how to see one block?"""

    remarks: int
    gaps: int = 2
    last: bool = False
    complete: bool = True
    block: bool = True


_TIGHT = _Way(1, gaps=0, block=False)
WAYS = (
    *(_Way(STAND_OUT, last=True), _Way(STAND_OUT), _Way(2), _Way(2, gaps=1), _Way(1), _Way(1, gaps=1)),
    *(_Way(1, gaps=0), _TIGHT, _Way(2, complete=False), _Way(1, complete=False), _TIGHT._replace(complete=False)),
)
"""The first that fits."""


def render_summary(
    summary: Summary, log: LogReference | None = None, *, colour: bool = False, check: bool = False
) -> str:
    """At most `LINES`, ending with a line end. On a simulated bench the first line says SIMULATED.

    ``check``: a quick check, which has `CHECK_LINES`: no head, no empty lines, no word of how to see all.
    """
    page, most = Page(WIDTH, colour), CHECK_LINES if check else LINES
    sweep = None
    if summary.sweep:
        from benchd.report.terminal.sweep_text import SweepText  # few logs have any

        sweep = SweepText(summary.sweep, summary.columns, summary.needed, WIDTH, _notes(summary.notes))
    head = [] if check else _flow(summary.head, "   ")
    top = [*page.simulated(summary.simulated), *head, *_warnings(summary.warnings, colour, check=check)]

    def filled(way: _Way) -> tuple[list[str], list[str]]:
        above, below = ([""] * (not check and way.gaps >= needed) for needed in (1, 2))
        end = _flow(_ending(summary, log, check=check, block=way.block), "   ", whole=True)
        foot = [*_stands_out(summary.stands_out, way.remarks), *end, *page.simulated(summary.simulated and way.last)]
        room = most - len(top) - len(foot) - len(above) - len(below)
        if sweep:
            body = sweep.points(room, partly=not way.complete)
            return [*top, *above, *(body or sweep.ends(room)), *below, *foot], body
        body = _whole(summary.blocks, room, complete=way.complete)
        return [*top, *above, *(body or _cut(summary.blocks, room)), *below, *foot], body

    lines: list[str] = []
    for way in WAYS:
        lines, body = filled(way)
        if body and (way.complete or not summary.sweep or len(body) >= len(filled(WAYS[-1])[1])):
            break  # of a sweep as many figures as there is room for at all
    return "\n".join(lines) + "\n"


INDENT = "  "


def _stands_out(remarks: Sequence[str], most: int) -> list[str]:
    """The first remarks, and how many more there are."""
    if not remarks:
        return []
    gone = len(remarks) - most
    more = f" {gone} more: --details." if gone > 0 else ""
    return wrapped(f"Stands out: {'; '.join(remarks[:most])}.{more}", WIDTH, "", INDENT)


def _whole(blocks: Sequence[BlockLines], room: int, *, complete: bool) -> list[str]:
    """Every line, if there is room; else nothing. ``complete``: and all that stands beside, of every block."""
    rows = _rows(blocks, ENDLESS if complete else room)
    return rows if len(rows) <= room else []


ENDLESS = 10_000
"""Room for whatever there is."""


def _cut(blocks: Sequence[BlockLines], room: int) -> list[str]:
    """What there is room for: the first lines of each block, the first blocks."""
    kept = list(blocks)
    while len(_rows(kept, 0)) > room and (longest := max(kept, key=lambda one: len(one.lines))).lines[1:]:
        kept[kept.index(longest)] = longest._replace(lines=longest.lines[:-1])
    while len(kept) > 1 and len(_rows(kept, 0)) + (len(kept) < len(blocks)) > room:
        kept.pop()
    gone = len(blocks) - len(kept)
    more = f"{INDENT}and {count(gone, 'more block')}: see --details"
    return [*_rows(kept, 0), *([more] if gone else [])]


def _rows(blocks: Sequence[BlockLines], room: int) -> list[str]:
    """Lines in columns, and below them what they would be misread without, each once.

    What has no room beside the figure of its line goes on in lines of its own, as far as there is ``room``.
    """
    lines = [line for block in blocks for line in block.lines]
    name = min(NAME, max((len(_name(line)) for line in lines), default=0))
    wide = min(FIGURE, max((len(shown(line.figure)) for line in lines), default=0))
    notes = dict.fromkeys(line.note for line in lines if line.note and line.figure.quantity.present)
    below = _notes(notes)
    drawn = [_line(line, name, wide) for line in lines]
    spare = room - len(drawn) - len(below)
    kept = set[int]()
    for at in sorted(range(len(drawn)), key=lambda at: drawn[at].beside):  # those first that have nothing beside yet
        if len(drawn[at].further) <= spare:
            kept.add(at)
            spare -= len(drawn[at].further)
    rows = [row for at, one in enumerate(drawn) for row in (one.row, *(one.further if at in kept else ()))]
    return [*rows, *below]


def _notes(notes: Iterable[str]) -> list[str]:
    return [row for note in notes for row in wrapped(note, WIDTH, INDENT, INDENT * 2)]


def _name(line: BriefLine) -> str:
    return shortened(line.name, MAX_NAME)


class _Drawn(NamedTuple):
    """A line; how much stands beside its figure, and further lines of what had no room there."""

    row: str
    beside: int = 0
    further: Sequence[str] = ()


def _line(line: BriefLine, name: int, wide: int) -> _Drawn:
    begin = f"{INDENT}{_name(line):{name}}  "
    own = line.figure.quantity
    if not own.present:
        return _Drawn(first_clauses(f"{begin}absent: {own.why}", WIDTH, least=len(begin) + len("absent: x")))
    row = f"{begin}{shown(line.figure):{wide}}"
    left = [text for one in line.also if (text := _clause(one) if isinstance(one, str) else shown(one))]
    if len(row) > WIDTH:
        row, left = f"{begin}{shown(line.figure._replace(at=''))}", [line.figure.at, *left]
    gap = "  "
    beside = len(gap) + len(", ".join(left))
    if left and (len(row) + len(gap) + len(left[0]) > WIDTH or len(row.rstrip()) + beside <= WIDTH < len(row) + beside):
        row = row.rstrip()  # it may stand nearer
    several = len(left)
    while left and len(row) + len(gap) + len(left[0]) <= WIDTH:
        row, gap = f"{row}{gap}{left.pop(0)}", ", "
    begin = " " * (len(INDENT) + name + 2)
    further = _flow([text for text in left if len(begin) + len(text) <= WIDTH], ", ", begin)
    return _Drawn(row.rstrip(), several - len(left), further)


def _clause(text: str) -> str:
    """Words beside a figure: of a long text the first clause, and its shorter words."""
    return text if len(text) <= WIDTH // 2 else re.split("[,;] ", text)[0].replace("specified range", "range")


def shown(one: BriefFigure) -> str:
    """``maximum 3.45 (2.5 to 4.7) at code 255``; of an absent figure ``checkerboard absent``, "" without a name."""
    if not one.quantity.present:
        return one.name and f"{one.name} absent"
    text = figure(one.quantity, one.unit, behind(one.unit), sign=one.sign)
    return " ".join(filter(None, (one.name, text, printable(one.at))))


def _warnings(warnings: Sequence[str], colour: bool, *, check: bool) -> list[str]:
    """One line each, the first ones; the rest by their number. A check has room for one line.

    Of a longer one the first clauses stand there, never half of one.
    """
    most = 1 if check else MAX_WARNINGS
    kept = warnings if len(warnings) <= most else warnings[: most - 1]
    gone = len(warnings) - len(kept)
    more = [f"{gone} more warnings: see --details"] if gone else []
    if check and gone:
        also = f" (and {gone - 1} more: see results)"
        more = [first_clauses(warnings[0], WIDTH - len("! ") - len(also), "") + also]
    two_lines = 0 if check else 2  # so many may go on in a second line: those that no clause's end makes short
    lines: list[str] = []
    for text in (*kept, *more):
        one = first_clauses(f"! {text}", WIDTH)
        if two_lines and (len(warnings) <= 2 or one.endswith("...")):
            one, two_lines = first_clauses(f"! {text}", 2 * WIDTH - 10), two_lines - 1
        lines += wrapped(one, WIDTH, "", INDENT)
    return [paint(line, "yellow", colour) for line in lines]


def _ending(summary: Summary, log: LogReference | None, *, check: bool, block: bool) -> list[str]:
    """How the run went, and how to see all, or one block."""
    if check:
        return [*summary.run, *([f"{LOG}{printable(log.file)}"] if log else [])]
    on = [_copied("Go on with: benchd resume {}", log)] if summary.goes_on else []
    one = [f"One block: --block {summary.block}"] if block and summary.block else []
    return [*summary.run, *on, _copied("Everything: benchd results {} --details", log), *one]


LOG = "Log: "


def _copied(line: str, log: LogReference | None) -> str:
    """A command on the log, never shortened; LOG stands for a name that has no room."""
    whole = line.format(shlex.quote(log.file) if log else "LOG")
    return whole if whole.isprintable() and len(whole) <= WIDTH else line.format("LOG")


def _flow(parts: Sequence[str], gap: str, indent: str = "", *, whole: bool = False) -> list[str]:
    """Parts one after another; one that no longer fits begins a new line. None but a path is longer than a line.

    ``whole``: a part that is longer than a line goes on in the next one.
    """
    lines: list[str] = []
    for part in parts:
        if lines and len(longer := f"{lines[-1]}{gap}{part}") <= WIDTH:
            lines[-1] = longer
        elif whole and not part.startswith(LOG):
            lines += [shortened(line, WIDTH) for line in wrapped(part, WIDTH, indent, indent + INDENT)]
        else:
            lines.append(part if part.startswith(LOG) else shortened(f"{indent}{part}", WIDTH))
    return lines
