"""What one block says of itself in a summary: a line or two with its figures, and what stands out of it.

A measurement gives this as ``brief`` of its `benchd.report.measurement.ShowPart`; of one that does not, it is made from
the figures that it declares.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.results import WhiteName
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.measurements.declared_figure import plain_name
from benchd.report.stands_out import Remark
from benchd.report.words import grouped


class BriefFigure(NamedTuple):
    """One figure of a line.

    ``unit``  as of `benchd.report.model.Line`
    ``name``  stands before it; "" where the name of the line is enough
    ``at``    stands behind it: where it was found, such as "at code 26"
    """

    quantity: Quantity
    unit: str
    name: str = ""
    at: str = ""
    sign: bool = False


class BriefLine(NamedTuple):
    """One line of a summary.

    ``figure``  the one that the line is about
    ``also``    further figures and words, most important first: where a line has no room, the last are left out
    ``note``    without which the figures would be misread, such as the reference of a colour difference. It stands
                once below the lines that have it
    """

    name: str
    figure: BriefFigure
    also: tuple[BriefFigure | str, ...] = ()
    note: str = ""


class Brief(NamedTuple):
    """Of one block: where there are more lines than room, the first one stays longest."""

    lines: tuple[BriefLine, ...]
    remarks: tuple[Remark, ...] = ()


REFERENCES: Mapping[WhiteName, str] = {
    "white_luminance": "target's white at the screen's luminance",
    "white_measured": "the screen's own white and luminance",
    "absolute": "target's white at the target's luminance",
}
"""What a colour difference is taken against under each convention of white, in a few words."""

MAX_HOW = MAX_NAME = 46
"""What a figure means is said beside it where that takes so few signs; so long is a name in a summary."""
MOST = 3
"""Lines of a block whose measurement gives no brief of its own."""


def brief_of_figures(figures: Iterable[Figure]) -> Brief:
    """The figures of the lowest ranks, a line each, in the order that they were declared in."""
    own = [one for one in figures if one.headline and not one.stand_in]
    ranks = sorted(one.rank for one in own)[:MOST]
    kept = [one for one in own if ranks and one.rank <= ranks[-1]][:MOST]
    return Brief(lines_of_figures(kept))


def white_notes(several: Sequence[Figure]) -> list[str]:
    """Of each colour difference the white that it is taken against, with names where they differ; "" of others."""
    whites = [dict(one.conditions).get("white", "") for one in several]
    named = grouped(zip(whites, map(name_of, several), strict=True))
    alike = len(named.keys() - {""}) == 1
    return [white and f"{'dE00' if alike else ', '.join(named[white])}: white taken as {white}" for white in whites]


def name_of(one: Figure) -> str:
    """Its name; where that is long the one over its column of a table."""
    return one.head.replace("\n", " ") if one.head and len(one.name) > MAX_NAME else plain_name(one.name)


def lines_of_figures(several: Sequence[Figure]) -> tuple[BriefLine, ...]:
    """A line for each, with what it would be misread without."""
    pairs = zip(several, white_notes(several), strict=True)
    return tuple(line_of_figure(one)._replace(note=note) for one, note in pairs)


def line_of_figure(one: Figure) -> BriefLine:
    """One figure of the catalogue as a line of its own."""
    return BriefLine(
        name_of(one),
        BriefFigure(one.quantity, one.unit, sign=one.unit == "Duv"),
        (one.how,) if len(one.how) <= MAX_HOW else (),
    )
