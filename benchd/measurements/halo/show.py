"""Black beside bright as data for a report: distances to a window, and checkerboards."""

from __future__ import annotations

from collections.abc import Iterator

from benchd.measurements.halo.plots import plots
from benchd.measurements.halo.results import Halo
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Words, ending

BESIDE = (
    Column("window"),
    Column("distance\n% of width"),
    Column("black", "cd/m2", uncertainty=True),
    Column("contrast", "1", uncertainty=True),
    Column("over\nall black", "ratio"),
)
BOARDS = (
    Column("board"),
    Column("white", "cd/m2", uncertainty=True),
    Column("black", "cd/m2", uncertainty=True),
    Column("contrast", "1", uncertainty=True),
    Column("nearest white\n% of width"),
)


def section(block: Halo) -> Section:
    """The block's own items."""
    about = f"window of {block.area_percent:g} %, code {block.code} of {block.bits} bits"
    return Section(block.block, "Halo", about, tuple(_items(block)))


def _items(block: Halo) -> Iterator[Item]:
    yield Line("window", block.window, "cd/m2")
    yield Line("all black", block.black, "cd/m2")
    yield Line("contrast", block.sequential, "1", note="")
    yield Line("near over far", block.near_over_far, "ratio")
    yield Words(block.behaviour)
    if block.reach_percent is not None:
        yield Words(f"black is at least doubled up to {block.reach_percent:g} % of the width from the window")
    beside = tuple((one.side, one.distance_percent, one.black, one.contrast, one.rise) for one in block.beside)
    yield Table("Black beside a bright window", BESIDE, beside)
    boards = tuple(
        (f"{one.cells} x {one.cells}", one.white, one.black, one.contrast, f"{one.distance_percent:.3g}")
        for one in block.boards
    )
    yield Table("Checkerboards", BOARDS, boards)
    yield from ending(block.missing, block.method)


PART = ShowPart(section=section, plots=plots)
