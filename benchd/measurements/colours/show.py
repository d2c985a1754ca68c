"""A list of colours as data for a report: each with the parts of its difference, and the averages with their words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from benchd.measurements.colours.results import Accuracy, ColourPatch, Colours
from benchd.measurements.former_names import list_now
from benchd.profile.colour_codes import uv_prime
from benchd.report.brief import REFERENCES, Brief, BriefFigure, BriefLine
from benchd.report.drawing.axes import Axes, Curve
from benchd.report.drawing.axis import Axis
from benchd.report.figure_text import NO_HUE, evidence, no_hue
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words, ending
from benchd.report.plots.chromaticity import Chromaticities, Point, point
from benchd.report.plots.plot import Ink, Plot
from benchd.report.stands_out import DELTA_E_2000, Remark, several_over
from benchd.report.units import sentence
from benchd.report.words import count

MAX_ARROWS = 100
"""More arrows overlap."""


def plots(several: Sequence[tuple[str, Colours]], name: str, simulated: bool) -> list[Plot]:
    """Of one log: arrows of several can't be laid over each other."""
    block = several[0][1]
    arrows: list[tuple[Point, Point]] = [
        ((one.target_x, one.target_y), at)
        for one in block.patches
        if one.target_x is not None and one.target_y is not None and (at := point(one.x, one.y))
    ]
    arrows = arrows[:MAX_ARROWS]
    if len(several) > 1 or not arrows:
        return []
    chosen = (one for one in block.accuracy if one.convention == block.primary and one.aim == block.aim)
    worst = next((f"Furthest off: {', '.join(_marked(one.worst[:3], block))}." for one in chosen if one.worst), "")
    title = f"Colours against their targets: {block.block.rpartition('/')[2]}"

    def draw(axes: Axes) -> None:
        axes.x, axes.y, axes.equal = Axis("u′"), Axis("v′"), True
        ends = [(uv_prime(*target), uv_prime(*measured)) for target, measured in arrows]
        starts, reached = zip(*ends, strict=True)
        axes.add(*(Curve(pair, Ink.series[0], width=1.0) for pair in ends))
        axes.add(Curve(starts, Ink.target, "s", mark_size=5.0, joined=False, hollow=True, label="target"))
        axes.add(Curve(reached, Ink.series[0], "o", mark_size=3.4, joined=False, label="measured", order=3))

    text = f"{title}: {len(arrows)} colours in u'v', each joined with its target. {worst}".strip()
    return [Plot(f"{name}-targets", title, text, draw, simulated, height_in=4.3)]


OUTSIDE = "*"
"""After the name of a colour that the space does not hold."""
MAX_COLOURS = 40
"""Colours of a list that a terminal shows, the worst ones where there are more."""
MAX_POINTS = 60
"""Colours of a longer list would hide the diagram."""

AIMS = {"target_clamped": "clamped", "target_unclamped": "unclamped"}
AVERAGES = (
    Column("difference"),
    Column("chosen by", rank=11),
    Column("mean", "dE00", uncertainty=True, rank=1),
    Column("median", "dE00", uncertainty=True, rank=2),
    Column("95th\npercentile", "dE00", uncertainty=True, rank=1),
    Column("maximum", "dE00", uncertainty=True, rank=1),
    Column("worst"),
    Column("of", rank=3),
)


def section(block: Colours) -> Section:
    """The block's own items."""
    about = f"{block.list}; {count(len(block.patches), 'colour')} against {block.space}"
    return Section(block.block, "Colours", about, tuple(_items(block)))


def _items(block: Colours) -> Iterator[Item]:
    yield Words(f"codes: {block.space}, {block.curve}; {block.patch}; {_outside(block)}")
    if block.source:
        yield Words(f"source: {block.source}", "definition")
    if "black taken" in block.black:
        yield Words(block.black)
    yield from _averages(block)
    yield _table(block)
    yield from ending(block.missing, block.method)


def _outside(block: Colours) -> str:
    if not block.outside:
        return "the space holds all of them"
    some = f"{count(block.outside, 'colour')} outside the space"
    if block.aim == "target_clamped":
        return f"{some}, held against the clamped codes that were shown"
    return f"{some}, held against the colour that was wanted"


def _table(block: Colours) -> Table:
    """One row a colour, with the parts of its difference; of a long list the worst first."""
    outside = "* outside the space: its codes are clamped" if any(one.outside for one in block.patches) else ""
    columns = (
        Column("colour", note=outside),
        Column("code"),
        Column("L", "cd/m2", uncertainty=True, rank=1),
        Column("x", "xy", uncertainty=True, rank=3),
        Column("y", "xy", uncertainty=True, rank=3),
        Column("target L", "cd/m2", rank=2),
        Column("target\nx", "xy", rank=4),
        Column("target\ny", "xy", rank=4),
        Column("dE00", "dE00", uncertainty=True),
        Column("of it\nL", "dE00", sign=True),
        Column("of it\nC", "dE00", sign=True),
        Column("of it\nH", "dE00", sign=True),
        Column("dE76", "dE00"),
        Column("dE94", "dE00"),
    )
    patches = block.patches
    if len(patches) > MAX_COLOURS:
        patches = tuple(sorted(patches, key=lambda one: -(one.error.total.value or 0.0)))
    rows = tuple(_row(one) for one in patches)
    return Table(
        f"Colours of {list_now(block.list)} against {block.space}", columns, rows, most=MAX_COLOURS, order="worst"
    )


def _row(one: ColourPatch) -> tuple[Value, ...]:
    error = one.error
    return (
        one.name + (OUTSIDE if one.outside else ""),
        " ".join(str(channel) for channel in one.code),
        *(one.luminance, one.x, one.y, one.target_luminance, one.target_x, one.target_y),
        *(error.total, error.lightness, error.chroma, NO_HUE if no_hue(error.hue) else error.hue),
        *(one.cie76, one.cie94),
    )


def _marked(names: Sequence[str], block: Colours) -> list[str]:
    """Names of colours, those that the space does not hold marked as in the table of them."""
    outside = {one.name for one in block.patches if one.outside}
    return [f"{name}{OUTSIDE}" if name in outside else name for name in names]


def _averages(block: Colours) -> Iterator[Item]:
    """Averages, each under its own words: aim, white, adaptation and formula."""
    if not any(one.mean.present for one in block.accuracy):
        reasons = dict.fromkeys(one.mean.why for one in block.accuracy)
        yield Words(f"colour differences absent: {'; '.join(reasons)}", "warning")
        return
    ordered = sorted(block.accuracy, key=lambda one: one.name != block.primary)
    also = (f"{AIMS[ordered[0].aim]}, {REFERENCES[ordered[0].convention]}",)
    yield Line("mean dE00", ordered[0].mean, "dE00", also, note="")
    yield Line("maximum dE00", ordered[0].maximum, "dE00", also, note="")
    yield Table(
        f"Colour differences of {list_now(block.list)}", AVERAGES, tuple(_average(one, block) for one in ordered)
    )
    for words, present in dict.fromkeys((_said(one), one.mean.present) for one in ordered):
        yield Words(words, "definition" if present else "")
    for formula in dict.fromkeys(one.formula for one in ordered):
        yield Words(formula, "definition")
    for note in dict.fromkeys(one.mean.why for one in ordered if one.mean.present and one.mean.why):
        yield Words(note, "warning")


def _average(one: Accuracy, block: Colours) -> tuple[Value, ...]:
    formula = {"cie76": "dE76", "cie94": "dE94"}.get(one.name, "dE00")
    chosen = "the plan" if one.convention == block.primary and one.aim == block.aim else None
    averages = (one.mean, one.median, one.percentile_95, one.maximum)
    return (
        f"{formula}, {AIMS[one.aim]}, {REFERENCES[one.convention]}",
        chosen,
        *averages,
        ", ".join(_marked(one.worst[:3], block)),
        evidence(one.mean, "dE00"),
    )


def _said(one: Accuracy) -> str:
    if not one.mean.present:
        return f"{sentence(REFERENCES[one.convention])}. Absent: {one.mean.why}"
    return f"{sentence(REFERENCES[one.convention])}. Lab white: {one.white}. Adaptation: {one.adaptation}"


def colours(block: Colours) -> Chromaticities:
    """The colours of a short list in the chromaticity diagram."""
    points = (point(one.x, one.y) for one in block.patches if len(block.patches) <= MAX_POINTS)
    return Chromaticities(points=tuple(at for at in points if at))


def brief(block: Colours) -> Brief:
    """Mean and maximum of the difference that the plan chose."""
    chosen = next((one for one in block.accuracy if one.name == block.primary), None)
    if chosen is None:
        return Brief(())
    name = block.block.rpartition("/")[2]
    at = f"at {_marked(chosen.worst[:1], block)[0]}" if chosen.worst else ""
    note = f"colour dE00: against {block.space}, {AIMS[block.aim]}; {REFERENCES[block.primary]}"
    note += f"; {OUTSIDE} outside {block.space}" if at.endswith(OUTSIDE) else ""
    also = (BriefFigure(chosen.maximum, "dE00", "max", at),)
    line = BriefLine(f"{name} dE00 mean", BriefFigure(chosen.mean, "dE00"), also, note)
    off = several_over([one.error.total for one in block.patches], DELTA_E_2000, "colour", "dE00")
    return Brief((line,), (Remark(off[0], f"{name}: {off[1]}", name),) if off else ())


PART = ShowPart(section=section, plots=plots, colours=colours, brief=brief)
