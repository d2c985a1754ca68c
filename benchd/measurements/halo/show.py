"""Black beside bright as data for a report: distances to a window, and checkerboards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchd.measurements.halo.results import Halo
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.drawing.axes import Axes
from benchd.report.drawing.axis import Axis
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Words, ending
from benchd.report.plots.intervals import Points, halves, series, target_level
from benchd.report.plots.plot import Plot
from benchd.report.stands_out import HALO_RATIO, Remark, over


def plots(several: Sequence[tuple[str, Halo]], name: str, simulated: bool) -> list[Plot]:
    """Black over the distance to a bright window, one line a side; of one log."""
    block = several[0][1]
    sides: dict[str, Points] = {}
    for one in block.beside:
        if one.black.plain and one.black.value:
            sides.setdefault(one.side, []).append((one.distance_percent, one.black.value, halves(one.black)))
    if len(several) > 1 or not any(len(points) > 1 for points in sides.values()):
        return []

    def draw(axes: Axes) -> None:
        axes.x = Axis("distance to the window, % of the screen's width")
        axes.y = Axis("black, cd/m² (logarithmic)", kind="logarithmic")
        if block.black.plain and block.black.value:
            axes.add(target_level(block.black.value, "all of the screen black"))
        for index, (side, points) in enumerate(sides.items()):
            axes.add(*series(index, side, sorted(points)))

    text = f"Black beside a window of {block.area_percent:g} %, over its distance. {block.behaviour}"
    return [Plot(f"{name}-black", "Black beside a bright window", text, draw, simulated)]


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


def brief(block: Halo) -> Brief:
    """The contrast beside a bright window, nearest and farthest, and that of the finest board."""
    if not block.beside:
        return Brief(())
    near, far = (end(block.beside, key=lambda one: one.distance_percent) for end in (min, max))
    line = BriefLine(
        "halo contrast",
        BriefFigure(near.contrast, "1", at=f"at {near.distance_percent:g} % of the width from a bright window"),
        (BriefFigure(far.contrast, "1", at=f"at {far.distance_percent:g} %"),),
    )
    boards = [
        BriefLine(f"board {one.cells} x {one.cells}", BriefFigure(one.contrast, "1"))
        for one in sorted(block.boards, key=lambda one: -one.cells)[:1]
    ]
    excess = over(block.near_over_far, HALO_RATIO)
    reach = f" up to {block.reach_percent:g} % of the width from it" if block.reach_percent is not None else ""
    brighter = f"black beside a bright window is {block.near_over_far.value or 0.0:.3g} times that far from it"
    doubled = f", and at least doubled{reach}" if reach else ""
    return Brief((line, *boards), (Remark(excess, brighter + doubled),) if excess else ())


PART = ShowPart(section=section, plots=plots, brief=brief)
