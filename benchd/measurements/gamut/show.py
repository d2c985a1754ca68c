"""A gamut as data for a report: the full colours, coverage and area in both diagrams, volume, additivity."""

from __future__ import annotations

from collections.abc import Iterator

from benchd.measurements.gamut.results import Gamut, GamutColour, HueShift, SpaceCoverage
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.figure_text import bare
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Item, Line, Section, Table, Value, Words, ending
from benchd.report.plots.chromaticity import Chromaticities, point
from benchd.report.stands_out import COVERAGE_PERCENT, Remark, under

CORNERS = ("red", "green", "blue")
ADDITIVE = 0.02
"""How far an additive screen may be from 1 (common practice)."""

SPACES = (
    Column("space"),
    Column("coverage\nu'v' 1976", "%", uncertainty=True),
    Column("coverage\nxy 1931", "%", uncertainty=True),
    Column("area ratio\nu'v' 1976", "%", uncertainty=True),
    Column("area ratio\nxy 1931", "%", uncertainty=True),
    Column("volume ratio\nCIELAB", "%", uncertainty=True),
)


def section(block: Gamut) -> Section:
    """The block's own items."""
    items = (_colours(block), *_spaces(block), *_volumes(block), *_additivity(block))
    return Section(
        block.block, "Gamut", f"full-drive colours, {block.patch}", (*items, *ending(block.missing, block.method))
    )


def _colours(block: Gamut) -> Table:
    turn = (
        f"hue: degrees that a colour is turned from the same colour of target {block.target}, each about its own "
        "white; + is red to yellow, green, cyan, blue"
    )
    columns = (
        Column("colour"),
        Column("L", "cd/m2", uncertainty=True),
        Column("x", "xy", uncertainty=True, rank=1),
        Column("y", "xy", uncertainty=True, rank=1),
        Column("u'", "xy", uncertainty=True, rank=2),
        Column("v'", "xy", uncertainty=True, rank=2),
        Column("n"),
        Column("hue\nu'v'", "deg", sign=True, note=turn),
        Column("hue\nLab", "deg", sign=True),
    )
    turned = {one.name: one for one in block.hue_shifts}
    rows = tuple(_colour(one, turned.get(one.name)) for one in block.colours)
    return Table(f"Full colours, {block.patch}", columns, rows)


def _colour(one: GamutColour, shift: HueShift | None) -> tuple[Value, ...]:
    hues = (shift.uv, shift.lab) if shift else (None, None)
    return (one.name, one.luminance, one.x, one.y, one.u_prime, one.v_prime, one.luminance.n, *hues)


def _spaces(block: Gamut) -> Iterator[Item]:
    """Coverage and area in both diagrams: none of the figures stands without its diagram."""
    if not any(one.coverage_uv.present or one.coverage_xy.present for one in block.coverage):
        reasons = dict.fromkeys(one.coverage_uv.why for one in block.coverage)
        if reasons:
            yield Words(f"coverage absent: {'; '.join(reasons)}", "warning")
        return
    rows = tuple(
        (one.label, one.coverage_uv, one.coverage_xy, one.area_ratio_uv, one.area_ratio_xy, one.volume_ratio)
        for one in block.coverage
    )
    yield Table("Coverage of colour spaces", SPACES, rows)
    yield Words(
        "coverage: what of the space the screen shows; ratios: screen over space, and no coverage", "definition"
    )
    chief = _chief(block)
    also = (f"of {chief.label}, CIE 1976 u'v'",)
    yield Line("coverage u'v'", chief.coverage_uv, "%", also)
    yield Line("area ratio u'v'", chief.area_ratio_uv, "%", also)


def _chief(block: Gamut) -> SpaceCoverage:
    """The space of the target, else the first."""
    return next((one for one in block.coverage if one.space == block.target), block.coverage[0])


def _volumes(block: Gamut) -> Iterator[Item]:
    for one in block.volumes:
        name = "ICtCp volume" if one.white == "ictcp" else "CIELAB volume"
        yield Line(name, one.volume, "volume", (one.words,))
    yield Words(f"volume {block.volume_from}", "definition")


def _additivity(block: Gamut) -> Iterator[Words]:
    parts = [f"{one.name} {bare(one.ratio, 'balance')}" for one in block.additivity if one.ratio.present]
    if not parts:
        if block.additivity:
            yield Words(f"additivity absent: {block.additivity[0].ratio.why}", "warning")
        return
    yield Words(f"additivity: primaries, black taken from each, over the mixed colour: {', '.join(parts)}")
    white = block.additivity[0].ratio
    if white.plain and abs((white.value or 1.0) - 1.0) > ADDITIVE:
        yield Words(f"the light does not add up: {_why_not(white.value or 1.0, block.patch)}", "warning")


def _why_not(share: float, patch: str) -> str:
    """What is behind light that does not add up, and what to do about it (common practice)."""
    if share < 1.0:
        return "white has more light than its primaries, as with a white sub-pixel; a model of the primaries fails"
    if patch == "full screen":
        return "a panel that dims itself when much is lit shows less white; give the block area_percent: 10"
    return "white has less light than its primaries together; a model of the primaries fails"


def colours(block: Gamut) -> Chromaticities:
    """Primaries and white in the chromaticity diagram."""
    found = {one.name: at for one in block.colours if (at := point(one.x, one.y))}
    primaries = tuple(found[corner] for corner in CORNERS if corner in found)
    words = tuple(
        f"covers {bare(one.coverage_uv, '%')} % of {one.label} in u'v'"
        for one in block.coverage
        if one.coverage_uv.present
    )
    spaces = tuple(Chromaticities(one.label, one.corners, one.white) for one in block.coverage if one.corners)
    complete = len(primaries) == len(CORNERS)
    return Chromaticities(primaries=primaries if complete else (), white=found.get("white"), words=words, spaces=spaces)


def against(block: Gamut) -> str:
    """What its hues are held against."""
    return f"hues of the gamut: primaries and white of {block.target}" if block.target else ""


def brief(block: Gamut) -> Brief:
    """Coverage in u'v' of the target's space, and of the others beside it."""
    if not block.coverage:
        return Brief(())
    chief = _chief(block)
    others = (BriefFigure(one.coverage_uv, "%", one.label) for one in block.coverage if one is not chief)
    line = BriefLine(f"covers {chief.label}", BriefFigure(chief.coverage_uv, "%", at="in u'v'"), tuple(others))
    return Brief((line,), tuple(_remarks(block, chief)))


def _remarks(block: Gamut, chief: SpaceCoverage) -> Iterator[Remark]:
    """Colours of the target that are lacking, and light that does not add up."""
    if chief.space == block.target and (excess := under(chief.coverage_uv, COVERAGE_PERCENT)):
        yield Remark(excess, f"the screen covers {chief.coverage_uv.value:.0f} % of {chief.label} in u'v'")
    white = next((one.ratio for one in block.additivity), None)
    if white and white.plain and abs((white.value or 1.0) - 1.0) > ADDITIVE:
        yield Remark(abs((white.value or 1.0) - 1.0) / ADDITIVE, "the light of the primaries does not add up to white")


PART = ShowPart(section=section, colours=colours, against=against, brief=brief)
