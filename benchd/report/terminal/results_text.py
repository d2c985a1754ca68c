"""All results as text for a terminal: conditions first, then each block, then what could not be had; or one block."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from benchd.analysis.results import Results
from benchd.errors import InputError, did_you_mean
from benchd.parallel import spread
from benchd.report.brief import Brief
from benchd.report.data.log_reference import LogReference
from benchd.report.measurement import is_of_block, show_part, shown_blocks
from benchd.report.sections.conditions import conditions, invalidation_words
from benchd.report.sections.whole_log import absent_section, run_sections
from benchd.report.summary import own_brief, what_stands_out
from benchd.report.terminal.section_text import named_lines, section_lines
from benchd.report.terminal.text_page import Page, page_for
from benchd.report.units import sentence
from benchd.report.words import printable

FIGURES = (
    "\u00b1 or (from to): holds the truth with 95 %, k its coverage factor; "
    "n: readings behind a figure; s: their standard deviation, in percent of it or in its unit; "
    "!: the meter did not call a reading ok"
)


def render_text(
    results: Results,
    *,
    log: LogReference | None = None,
    width: int = 100,
    colour: bool = False,
    known: Mapping[str, BlockText] = MappingProxyType({}),
) -> str:
    """The whole report, ending with a line end. On a simulated bench its first and last line say SIMULATED.

    ``width`` is that of the terminal; the page has 80 to 160 signs. ``colour`` adds terminal colours and
    changes no letter. A sweep is a table, and what is printed of a run without one, point by point. ``known``: the
    `block_text` of all blocks, where it is.
    """
    page = page_for(width, colour)
    lines = [*page.simulated(results.simulated), *_head(results, log, page), *_stands_out(results, known, page)]
    sweep = results.sweep
    if sweep:
        from benchd.report.sections.sweep import sweep_section

        lines += section_lines(sweep_section(results, sweep), page)
    lines += [text for one in run_sections(results) for text in section_lines(one, page)]
    written = [(str(block.block), texts) for block, texts in _blocks(results, known, page)]
    for point in [f"{row.point}/" for row in sweep.rows] if sweep else [""]:
        lines += (text for name, texts in written if name.startswith(point) for text in texts)
    if results.absent:
        lines += section_lines(absent_section(results, every=True), page)
    if results.simulated:
        lines += ["", *page.simulated(True)]
    return "\n".join(lines) + "\n"


def render_block(results: Results, name: str, *, width: int = 100, colour: bool = False) -> str:
    """All that is known of one block, of a sweep at every point or at the one that ``name`` begins with; or of drift.

    Raises `InputError` for a name that no block has.
    """
    refuse_no_block(results, name)
    page = page_for(width, colour)
    shown = [(kind, one) for kind, one in shown_blocks(results) if is_of_block(one.block, name)]
    lost = [one for one in results.absent if is_of_block(one.result, name)]
    beside = [one for one in run_sections(results) if one.block == name]
    lines = [*page.simulated(results.simulated), *_doubtful(results, page)]
    for kind, block in shown:
        lines += section_lines(show_part(kind).section(block), page)
    for section in beside:
        lines += section_lines(section, page)
    for one in lost:
        lines += page.warning(f"{one.result}: {one.why}")
    lines += ["", *page.simulated(True)] if results.simulated else []
    return "\n".join(lines) + "\n"


def refuse_no_block(results: Results, name: str) -> None:
    """Raises `InputError` for a name that no block has."""
    paths = (*results.blocks, *(one.result for one in results.absent))
    if any(is_of_block(path, name) for path in paths) or name in (one.block for one in run_sections(results)):
        return
    own = dict.fromkeys(block.rpartition("/")[2] for block in results.blocks)
    every = f"known are: {', '.join(own)}{', each also as POINT/NAME' if results.sweep else ''}"
    raise InputError(f"{results.plan} has no block {name!r}; {did_you_mean(name, [*own, *results.blocks], every)}")


class BlockText(NamedTuple):
    """What a report has of one block: its lines, and what it says of itself."""

    lines: list[str]
    brief: Brief


def block_text(block: Any, *, width: int, colour: bool) -> BlockText:
    """Of the results of one block."""
    brief = own_brief(block)
    return BlockText(_written(block, page_for(width, colour)), brief)


def _written(block: Any, page: Page) -> list[str]:
    return section_lines(show_part(block.kind).section(block), page)


MANY_READINGS = 100
"""Blocks of so many are written on all cores: their intervals take more than all else."""


def _blocks(results: Results, known: Mapping[str, BlockText], page: Page) -> list[tuple[Any, list[str]]]:
    """Every block and its lines, kind by kind."""
    blocks = [block for _, block in shown_blocks(results)]
    if known:
        return [(block, known[block.block].lines) for block in blocks]
    if results.readings <= MANY_READINGS:
        return [(block, _written(block, page)) for block in blocks]
    lines = spread(lambda number: _written(blocks[number], page), range(len(blocks)))
    return list(zip(blocks, lines, strict=True))


def _head(results: Results, log: LogReference | None, page: Page) -> list[str]:
    rows = [*conditions(results), ("figures", FIGURES)]
    if log:
        rows.append(("log", f"{printable(log.file)}, sha256 begins {log.sha256[:16]}"))
    return [*named_lines(rows, page), *_doubtful(results, page)]


def _stands_out(results: Results, known: Mapping[str, BlockText], page: Page) -> list[str]:
    briefs = {name: one.brief for name, one in known.items()}
    remarks = [sentence(text) for text in what_stands_out(results, briefs)]
    return [*page.heading("Stands out", ""), *(row for text in remarks for row in page.prose(text))] if remarks else []


def _doubtful(results: Results, page: Page) -> list[str]:
    lines = []
    if results.interrupted:
        lines += page.warning("the run has not ended: what was not measured is absent below", "")
    for doubt in invalidation_words(results):
        lines += page.warning(doubt, "")
    return lines
