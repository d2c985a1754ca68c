"""A free list of patches as data for a report."""

from __future__ import annotations

from benchd.measurements.patches.results import Patches, PatchResult
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.figure_text import standard_deviation_cell
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Section, Table, Value, ending
from benchd.report.words import count

MAX_PATCHES = 64
"""Patches that a terminal shows; a night's lattice of colours is for the data."""

COLUMNS = (
    Column("patch"),
    Column("code"),
    Column("L", "cd/m2", uncertainty=True),
    Column("n"),
    Column("s"),
    Column("x", "xy"),
    Column("y", "xy"),
    Column("u'", "xy", rank=1),
    Column("v'", "xy", rank=1),
)


def section(block: Patches) -> Section:
    """One row a patch."""
    table = Table(f"Patches of {block.block}", COLUMNS, tuple(_row(one) for one in block.patches), most=MAX_PATCHES)
    about = count(len(block.patches), "patch", "patches")
    return Section(block.block, "Patches", about, (table, *ending(block.missing, block.method)))


def _row(one: PatchResult) -> tuple[Value, ...]:
    light = one.luminance
    code = " ".join(str(channel) for channel in one.code)
    return (
        one.name,
        code,
        light,
        light.n,
        standard_deviation_cell(light, "cd/m2"),
        one.x,
        one.y,
        one.u_prime,
        one.v_prime,
    )


def brief(block: Patches) -> Brief:
    """The brightest patch, and how many there are: what a free list is for is known to its author only."""
    known = [one for one in block.patches if one.luminance.plain]
    if not known:
        return Brief(())
    brightest = max(known, key=lambda one: one.luminance.value or 0.0)
    also = f"the brightest of {count(len(block.patches), 'patch', 'patches')}"
    return Brief((BriefLine("patches", BriefFigure(brightest.luminance, "cd/m2", at=f"at {brightest.name}"), (also,)),))


PART = ShowPart(section=section, brief=brief)
