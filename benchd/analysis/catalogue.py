"""The figures that a display is summed up, compared and judged by, under plain names such as "white luminance".

One list for the report's summary, for comparisons, for the claims of makers and for the library, so that all of them
speak of the same: the figures of all blocks, each as the part of its kind gives them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.colour.target import Target
from benchd.analysis.figure_conditions import Conditions, of_settings
from benchd.analysis.measurement import Result, in_order, result_part
from benchd.analysis.results import Results
from benchd.measurements.declared_figure import DeclaredFigure, declared_figures

if TYPE_CHECKING:  # few logs have a sweep
    from benchd.analysis.results_log import Setting, SweepRow

AT = " at "
"""Between the name of a figure and the settings of its point of a sweep."""

POINT = "display settings"
"""What the settings of a log hold where its results are those of one point of a sweep alone: the same figures then."""

OF_FURTHER = 6
"""Added to the rank of a figure that another block of the same log or point gives too."""

TOPICS = ("luminance", "colour of white", "grayscale", "uniformity", "gamut", "HDR", "colours")
"""The order of a summary; any other topic comes after these."""


def headlines(results: Results) -> tuple[Figure, ...]:
    """Those of the figures that a summary shows."""
    return tuple(one for one in figures(results) if one.headline)


def figures(results: Results) -> tuple[Figure, ...]:
    """All that a log has, each name once, in the order of a report. Absent figures are left out.

    The second block of a kind has its name after the figure's: "white luminance (evening)". In a sweep every
    figure carries its point: "white luminance at brightness=50".
    """
    of_all = _of_log(results)
    if POINT in results.settings:
        alone = at_point(results.blocks.values(), results.target).values()
        return tuple(_with(one, one.name, of_all) for one in alone if one.quantity.present)
    if results.sweep is None:
        every = _in_order(in_order(results), results.target)
        found = named(one for one in every if one.quantity.present and not one.stand_in)
        return tuple(_with(one, one.name, of_all) for one in found.values())
    return tuple(
        _with(one, f"{one.name}{AT}{point_words(row)}", of_all)
        for row in results.sweep.rows
        for one in row.figures.values()
        if one.quantity.present
    )


def _of_log(results: Results) -> Conditions:
    """Of every figure of a log: its signal, where that is not SDR, and whether the room's light was taken off."""
    room_off = any(one.screen == "off" and one.subtracted for one in results.offsets)
    return (*of_settings(results.settings), *((("room", "its light subtracted"),) if room_off else ()))


def _with(one: Figure, name: str, of_all: Conditions) -> Figure:
    return replace(one, name=name, conditions=(*of_all, *one.conditions))


def at_point(blocks: Iterable[Result], target: Target | None) -> Mapping[str, Figure]:
    """The figures of one point of a sweep by their names; where none of a block made for it is had, a stand-in for it.

    A block has the same names at every point, however far that is measured.
    """
    found = [one for one in _in_order(blocks, target) if one.headline]
    chosen = named(one for one in found if not one.stand_in)
    for one in sorted((one for one in found if one.stand_in), key=lambda one: not one.quantity.present):
        if one.name not in chosen or (one.quantity.present and not chosen[one.name].quantity.present):
            chosen[one.name] = one
    return dict(sorted(chosen.items(), key=lambda one: _place(one[1])))


def _in_order(blocks: Iterable[Result], target: Target | None) -> list[Figure]:
    """The figures of blocks, topic by topic."""
    found = (one for block in blocks for one in result_part(block.kind).figures(block, target))
    return sorted(found, key=_place)


def _place(one: DeclaredFigure) -> int:
    return TOPICS.index(one.topic) if one.topic in TOPICS else len(TOPICS)


def of_points(rows: Iterable[SweepRow]) -> dict[str, Figure]:
    """Every figure that a point of a sweep has, by its name without the point, in the order of a summary."""
    every = {name: one for row in rows for name, one in row.figures.items()}
    return dict(sorted(every.items(), key=lambda named: _place(named[1])))


def short_names() -> list[str]:
    """The short names of all figures that measurements declare, in the order of a summary."""
    known = sorted(declared_figures(), key=_place)
    return [short for one in known for short in (one.short, *one.members.values()) if short]


def named(several: Iterable[Figure]) -> dict[str, Figure]:
    """By name; that of a further block has the block after its own name, and a further stand-in is left out."""
    found: dict[str, Figure] = {}
    for one in several:
        name = one.name
        if name in found:
            if one.stand_in:
                continue
            name = f"{name} ({one.block.rpartition('/')[2]})"
            one = replace(one, name=name, short="", head="", rank=one.rank + OF_FURTHER)
        found.setdefault(name, one)
    return found


def point_words(row: SweepRow) -> str:
    """The settings of a point: "brightness=50 preset=warm"."""
    return " ".join(f"{name}={_plain(value)}" for name, value in row.settings.items())


def _plain(value: Setting) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
