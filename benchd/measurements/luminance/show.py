"""Luminance as data for a report: white and black of the full screen, the colour of white."""

from __future__ import annotations

from benchd.analysis.results import Chromaticity
from benchd.measurements.luminance.results import Luminance
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.figure_text import bare
from benchd.report.measurement import ShowPart
from benchd.report.model import Item, Line, Part, Section, Together, ending
from benchd.report.plots.chromaticity import Chromaticities, point, track


def section(block: Luminance) -> Section:
    """White, black, and white's colour."""
    items: tuple[Item, ...] = (
        Line("white", block.white, "cd/m2"),
        Line("black", block.black, "cd/m2"),
        _colour(block.white_chromaticity),
        *ending(block.missing, block.method),
    )
    return Section(block.block, "Luminance", "full screen, centre", items)


def _colour(colour: Chromaticity) -> Together:
    parts = (
        Part("x", colour.x, "xy"),
        Part("y", colour.y, "xy"),
        Part("u'", colour.u_prime, "xy"),
        Part("v'", colour.v_prime, "xy"),
        Part("CCT", colour.cct, "K"),
        Part("Duv", colour.duv, "Duv", sign=True),
    )
    if not any(one.quantity.present for one in parts):
        note = f"no colour: {colour.x.why.removeprefix('no chromaticity: ')}" if colour.x.why else ""
    else:
        note = f"no CCT: {colour.cct.why}" if not colour.cct.present and colour.cct.why else ""
    return Together("colour of white", parts, note)


def colours(block: Luminance) -> Chromaticities:
    """White in the chromaticity diagram."""
    colour = block.white_chromaticity
    words = (f"white x {bare(colour.x, 'xy')}, y {bare(colour.y, 'xy')}",) if colour.x.plain else ()
    return Chromaticities(white=point(colour.x, colour.y), greys=track([(100.0, colour)]), words=words)


def brief(block: Luminance) -> Brief:
    """White with its colour, and black."""
    colour = block.white_chromaticity
    white = (BriefFigure(colour.cct, "K", "CCT"), BriefFigure(colour.duv, "Duv", "Duv", sign=True))
    return Brief(
        (
            BriefLine("white", BriefFigure(block.white, "cd/m2"), white),
            BriefLine("black", BriefFigure(block.black, "cd/m2"), (block.black.why,)),
        )
    )


PART = ShowPart(section=section, colours=colours, brief=brief)
