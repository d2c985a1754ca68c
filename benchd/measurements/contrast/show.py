"""Contrast as data for a report: full screen white over black, and a checkerboard in both polarities."""

from __future__ import annotations

from benchd.measurements.contrast.results import CheckerboardContrast, Contrast, Polarity, SequentialContrast
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.figure_text import figure, note_of_ratio
from benchd.report.measurement import ShowPart
from benchd.report.model import Line, Section, Words, ending


def section(block: Contrast) -> Section:
    """The kinds of contrast that the plan chose."""
    items = _sequential(block.sequential) if block.sequential else ()
    items += _board(block.checkerboard) if block.checkerboard else ()
    return Section(block.block, "Contrast", "white over black", items)


def _sequential(one: SequentialContrast) -> tuple[Line | Words, ...]:
    also, note = ("full screen, one after the other",), note_of_ratio(one.ratio, one.black)
    return (Line("sequential", one.ratio, "1", also, note), *ending(one.missing, one.method))


def _board(board: CheckerboardContrast) -> tuple[Line | Words, ...]:
    also = (f"{board.columns} x {board.rows} cells, mean of both polarities",)
    both = (board.normal, board.inverse)
    missing = "; ".join(dict.fromkeys(one.missing for one in both if one.missing))
    return (
        Line("checkerboard", board.ratio, "1", also, note_of_ratio(board.ratio, board.normal.black)),
        *(_polarity(one, board.ratio.why) for one in both),
        *ending(missing, board.method),
    )


def _polarity(one: Polarity, said: str) -> Line:
    """One polarity; its note only where it is another than the one that was ``said`` above."""
    white, black = (figure(light, "cd/m2", " cd/m2") for light in (one.white, one.black))
    also = (f"mean white {white}, mean black {black}",)
    return Line(one.name, one.ratio, "1", also, "" if one.ratio.why == said else one.ratio.why, level=1)


def brief(block: Contrast) -> Brief:
    """The sequential contrast, with that of the checkerboard beside it."""
    one, board = block.sequential, block.checkerboard
    checkerboard = BriefFigure(board.ratio, "1", "checkerboard") if board else None
    if one:
        also = (checkerboard,) if checkerboard else ()
        line = BriefLine("contrast", BriefFigure(one.ratio, "1"), (*also, note_of_ratio(one.ratio, one.black)))
        return Brief((line,))
    return Brief((BriefLine("checkerboard", checkerboard._replace(name="")),) if checkerboard else ())


PART = ShowPart(section=section, brief=brief)
