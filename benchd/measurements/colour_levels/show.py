"""Colours at levels as data for a report."""

from __future__ import annotations

from benchd.analysis.figure_conditions import SIGNALS
from benchd.measurements.colour_levels.results import ColourLevels, LevelColour
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, ending
from benchd.report.stands_out import DELTA_E_ITP, Remark, several_over
from benchd.report.words import PRIMARIES, count

COLUMNS = (
    Column("colour"),
    Column("level", "cd/m2"),
    Column("requested", "cd/m2", rank=4),
    Column("L", "cd/m2", uncertainty=True),
    Column("reached", "%", rank=3),
    Column("x", "xy", uncertainty=True),
    Column("y", "xy", uncertainty=True),
    Column("dE ITP", "dE ITP", uncertainty=True),
    Column("of it\nI", "dE ITP", sign=True),
    Column("of it\nT", "dE ITP", sign=True),
    Column("of it\nP", "dE ITP", sign=True),
)


def section(block: ColourLevels) -> Section:
    """One row a colour and level."""
    inside = PRIMARIES.get(block.inside, block.inside)
    about = f"{count(len(block.colours), 'colour')} of {inside}, {SIGNALS.get(block.transfer, block.transfer)}"
    items: tuple[Item, ...] = (
        Line("mean dE ITP", block.mean_delta_e_itp, "dE ITP"),
        Line("maximum dE ITP", block.max_delta_e_itp, "dE ITP", (block.worst,)),
        Table(f"Colours at levels, {block.inside}", COLUMNS, tuple(_row(one) for one in block.colours)),
        *ending(block.missing, block.method),
    )
    return Section(block.block, "Colours at levels", about, items)


def _row(one: LevelColour) -> tuple[Value, ...]:
    light = (f"{one.level_cd_m2:g}", one.requested_luminance_cd_m2, one.luminance, one.reached)
    return (one.hue, *light, one.x, one.y, one.delta_e_itp, one.d_i, one.d_t, one.d_p)


def against(block: ColourLevels) -> str:
    """The light and the primaries that the colours are held against."""
    inside = PRIMARIES.get(block.inside, block.inside)
    return f"{SIGNALS.get(block.transfer, block.transfer)} light of each colour, colours of {inside}"


def brief(block: ColourLevels) -> Brief:
    """Mean and maximum of the differences."""
    at = f"at {block.worst}" if block.worst else ""
    largest = BriefFigure(block.max_delta_e_itp, "dE ITP", "max", at)
    line = BriefLine("colours dE ITP mean", BriefFigure(block.mean_delta_e_itp, "dE ITP"), (largest,))
    off = several_over([one.delta_e_itp for one in block.colours], DELTA_E_ITP, "colour", "dE ITP")
    return Brief((line,), (Remark(off[0], f"colours at levels: {off[1]}", "colours at levels"),) if off else ())


PART = ShowPart(section=section, against=against, brief=brief)
