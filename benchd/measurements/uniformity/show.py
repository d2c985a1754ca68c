"""Uniformity as data for a report: for each level maps, the figures drawn from them, and every place."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.uniformity.results import Uniformity, UniformityCell, UniformityLevel
from benchd.report.brief import Brief, BriefFigure, BriefLine
from benchd.report.drawing.axes import Axes
from benchd.report.figure_text import bare, map_texts
from benchd.report.measurement import ShowPart
from benchd.report.model import Column, Heading, Item, Line, Map, Section, Table, Words, ending
from benchd.report.plots.plot import Plot
from benchd.report.plots.shaded_cells import shaded_cells
from benchd.report.stands_out import DELTA_UV, DEVIATION_PERCENT, Remark, over
from benchd.report.words import plain

Cells = tuple[tuple[Quantity, ...], ...]


def plots(several: Sequence[tuple[str, Uniformity]], name: str, simulated: bool) -> list[Plot]:
    """Two maps a level, without one that has no figure at all; maps of several logs can't be laid over each other."""
    if len(several) > 1:
        return []
    return [
        replace(plot, under=level.level)
        for level in several[0][1].levels
        for plot in _plots(level, f"{name}-{plain(level.level)}", simulated)
    ]


def _plots(level: UniformityLevel, name: str, simulated: bool) -> list[Plot]:
    from_centre = f"from the centre {level.centre}" if level.centre else "from the centre"
    at, places = f"{level.level}: ", f"luminance of {level.columns} by {level.rows} places"
    worst = f" Worst place: {level.worst_place}, {bare(level.worst_deviation, '%', sign=True)} %."
    furthest = f" at {level.max_delta_uv_place}." if level.max_delta_uv_place else "."
    largest = bare(level.max_delta_uv, "u'v'")
    distance = f"distance in u'v' {from_centre}, largest {largest}{furthest}"
    in_percent = f"{places}, in percent {from_centre}.{worst if level.worst_place else ''}"
    made: dict[str, Plot] = {}
    for shown, kind, cells, label, text in (
        ("luminance", "%", _grid(level, lambda cell: cell.deviation), f"luminance, % {from_centre}", in_percent),
        ("luminance", "cd/m2", _grid(level, lambda cell: cell.luminance), "luminance, cd/m²", f"{places}."),
        ("colour", "u'v'", _grid(level, lambda cell: cell.delta_uv), f"u′v′ {from_centre}", distance),
    ):
        if shown not in made and _any(cells):
            title, draw = f"Uniformity, {at}{shown}", _map(cells, kind, label)
            made[shown] = Plot(f"{name}-{shown}", title, at + text, draw, simulated, filled=True)
    return list(made.values())


def _map(cells: Cells, kind: str, label: str) -> Callable[[Axes], None]:
    def draw(axes: Axes) -> None:
        known = [one.value for row in cells for one in row if one.value is not None]
        low, high = min(known), max(known)
        if kind == "u'v'":  # further from the centre: darker, as with luminance; never more drama than 0.004 is worth
            low, high = 0.0, max(high, 0.004)
        elif kind == "%":
            low, high = min(low, -10.0), max(high, 0.0)
        texts = [[text.replace("-", "−") for text in row] for row in map_texts(cells, kind, sign=kind == "%")]
        values = [[one.value for one in row] for row in cells]
        shaded_cells(axes, values, texts, (low, high), label=label, more_is_dark=kind == "u'v'")

    return draw


PLACES = (
    Column("place"),
    Column("L", "cd/m2", uncertainty=True),
    Column("deviation", "%", sign=True, alike=True),
    Column("x", "xy"),
    Column("y", "xy"),
    Column("u'v' from centre", "u'v'", alike=True),
    Column("dE00 from centre", "dE00"),
)


def section(block: Uniformity) -> Section:
    """Level by level."""
    items = [item for level in block.levels for item in _level(level)]
    sizes = dict.fromkeys(f"{level.columns} x {level.rows} places" for level in block.levels)
    about = ", ".join((*sizes, "seen from the front"))
    return Section(block.block, "Uniformity", about, (*items, *ending("", block.method)))


def _level(level: UniformityLevel) -> Iterator[Item]:
    yield Heading(level.level, f"{level.percent:g} % signal, code {level.code}")
    yield from _maps(level)
    yield from _figures(level)
    cells = [cell for row in level.grid for cell in row]
    if any(cell.luminance.present for cell in cells):
        yield Table(
            f"Every place of {level.level}",
            PLACES,
            tuple(
                (
                    f"r{one.row}c{one.column}",
                    *(one.luminance, one.deviation),
                    *(one.chromaticity.x, one.chromaticity.y),
                    *(one.delta_uv, one.delta_e),
                )
                for one in cells
            ),
            most=0,
            folded=True,
        )
    yield from ending(level.missing, "")


def _maps(level: UniformityLevel) -> Iterator[Map]:
    """Luminance; deviation from the centre, its worst place marked; u'v' distance, likewise.

    A map without a single figure (a grid that has no centre) would only say so many times over.
    """
    from_centre = f"from centre {level.centre}" if level.centre else "from centre"
    # Where even the largest distance is zero to the last digit shown, no place is the worst.
    coloured = level.max_delta_uv.present and bare(level.max_delta_uv, "u'v'").strip("0.") != ""
    worst, furthest = _place(level.worst_place), _place(level.max_delta_uv_place) if coloured else None
    for one in (
        Map("luminance", "cd/m2", _grid(level, lambda cell: cell.luminance)),
        Map(f"deviation {from_centre}", "%", _grid(level, lambda cell: cell.deviation), sign=True, marked=worst),
        Map(f"u'v' distance {from_centre}", "u'v'", _grid(level, lambda cell: cell.delta_uv), marked=furthest),
    ):
        if _any(one.cells):
            yield one


def _any(cells: Cells) -> bool:
    """Is there a figure in any of them?"""
    return any(cell.present for row in cells for cell in row)


def _grid(level: UniformityLevel, part: Callable[[UniformityCell], Quantity]) -> Cells:
    return tuple(tuple(part(cell) for cell in row) for row in level.grid)


def _place(name: str | None) -> tuple[int, int] | None:
    match = re.fullmatch(r"r(\d+)c(\d+)", name or "")
    return (int(match[1]), int(match[2])) if match else None


def _figures(level: UniformityLevel) -> Iterator[Item]:
    pair = level.max_pair_places
    lines = (
        Line("mean", level.mean, "cd/m2"),
        Line("non-uniformity", level.non_uniformity, "%", ("(Lmax - Lmin) / Lmax, between any two places",)),
        Line("minimum / maximum", level.min_over_max, "ratio", ("Lmin / Lmax",)),
        Line("worst from centre", level.worst_deviation, "%", _at(level.worst_place), sign=True),
        Line("u'v' from centre", level.max_delta_uv, "u'v'", _at(level.max_delta_uv_place)),
        Line("u'v' of any pair", level.max_pair_delta_uv, "u'v'", (f"{pair[0]} to {pair[1]}",) if pair else ()),
        Line("dE00 from centre", level.max_delta_e, "dE00", _at(level.max_delta_e_place)),
    )
    reasons: dict[str, list[str]] = {}
    for line in lines:
        if line.quantity.present:
            yield line
        else:
            reasons.setdefault(line.quantity.why, []).append(line.name)
    if level.max_delta_e.present:
        yield Words(f"dE00: {level.delta_e_convention}", "definition")
    for why, names in reasons.items():
        yield Words(f"absent: {', '.join(names)}: {why}", "warning")


def _at(place: str | None) -> tuple[str, ...]:
    return (f"at {place}",) if place else ()


def brief(block: Uniformity) -> Brief:
    """The worst place of each level, in light and in colour."""
    return Brief(tuple(map(_line, block.levels)), tuple(_foremost(block)))


def _foremost(block: Uniformity) -> Iterator[Remark]:
    """One of light and one of colour: a screen is uneven at all levels alike."""
    for about in (_light, _colour):
        yield from sorted(remark for level in block.levels for remark in about(level))[-1:]


def _line(level: UniformityLevel) -> BriefLine:
    """From the centre; of a grid without one between any two places. Which is said, since data have both."""
    if level.centre is None:
        light = BriefFigure(level.non_uniformity, "%", at="between any two places")
        colour = BriefFigure(level.max_pair_delta_uv, "u'v'", "u'v'", at="between any two places")
    else:
        light = BriefFigure(level.worst_deviation, "%", at=_from_centre(level.worst_place), sign=True)
        colour = BriefFigure(level.max_delta_uv, "u'v'", "u'v'", at=_from_centre(level.max_delta_uv_place))
    return BriefLine(f"uniformity {level.level}", light, (colour,))


def _from_centre(place: str | None) -> str:
    return " ".join(("from centre", *_at(place)))


def _light(level: UniformityLevel) -> Iterator[Remark]:
    """A place much darker or brighter than the centre."""
    if excess := over(level.worst_deviation, DEVIATION_PERCENT):
        value = level.worst_deviation.value or 0.0
        size = f"{abs(value):.0f} % {'darker' if value < 0.0 else 'brighter'} than the centre"
        yield Remark(excess, f"{level.level}: {_place_words(level)} is {size}", f"light {level.level}")


def _colour(level: UniformityLevel) -> Iterator[Remark]:
    """A colour that is not the same everywhere."""
    if (excess := over(level.max_pair_delta_uv, DELTA_UV)) and (pair := level.max_pair_places):
        said = f"the colour of {pair[0]} and {pair[1]} is {level.max_pair_delta_uv.value:.4f} u'v' apart"
        yield Remark(excess, f"{level.level}: {said}", f"colour {level.level}")


def _place_words(level: UniformityLevel) -> str:
    """``the lower left corner``, of a place between them ``r2c3``."""
    at = _place(level.worst_place)
    if at is None:
        return "a place"
    row = {1: "upper", level.rows: "lower"}.get(at[0], "")
    column = {1: "left", level.columns: "right"}.get(at[1], "")
    return f"the {row} {column} corner" if row and column else f"{level.worst_place}"


PART = ShowPart(section=section, plots=plots, brief=brief)
