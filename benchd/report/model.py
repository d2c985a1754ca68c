"""A report as data: sections of lines, tables and words, which one renderer draws on a terminal and one on a page.

Names, heads and captions are plain text: ``u'v'``, ``dE00``, ``cd/m2``. A page sets the signs of print in their place.
Most are named tuples: a dataclass takes five times as long to make, and a command makes all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.words import by_reason, unbroken


class Verdict(str):
    """A word of judgement, such as ``not met``: a page sets its sign and colour, a terminal its colour."""

    __slots__ = ()


class Amount(NamedTuple):
    """A figure in a column whose rows have units of their own. ``said``: in place of the unit, such as "points"."""

    quantity: Quantity
    unit: str
    sign: bool = False
    said: str | None = None


Value = Quantity | Amount | Verdict | str | int | float | None
"""What stands in a cell: a figure with its uncertainty, a word, a number that is exact, or nothing."""


class Line(NamedTuple):
    """One figure on a line of its own: ``white   384.6 ± 2.1 cd/m2   k = 1.96, n 3   also``.

    ``unit``  as of `benchd.analysis.catalogue_figure.Figure`, and "ratio" for one that is not written "1000:1"
    ``also``  further words beside it; ``note`` takes the place of the quantity's own (None: that one stands)
    ``level`` 1: indented below the line before
    """

    name: str
    quantity: Quantity
    unit: str
    also: tuple[str, ...] = ()
    note: str | None = None
    level: int = 0
    sign: bool = False


class Part(NamedTuple):
    """One of several figures that belong together."""

    name: str
    quantity: Quantity
    unit: str
    sign: bool = False


class Together(NamedTuple):
    """Figures that are read together, such as x, y, CCT and Duv of one colour; absent ones are left out."""

    name: str
    parts: tuple[Part, ...]
    note: str = ""


class Column(NamedTuple):
    """A column of a table.

    ``head``         a line break in it is kept where there is room for two lines
    ``unit``         None: words or exact numbers
    ``uncertainty``  U, or the ends of the interval, stands in a column beside
    ``rank``         where a terminal is narrow, columns of the highest rank are left out first, and 0 never;
                     a column of U leaves `OF_UNCERTAINTY` ranks before its figure would
    ``note``         what it means, printed below a table that has it
    ``holds_for``    the conditions of its figures, printed there too
    ``own``          the head is a name that the user gave: it stands as it is
    ``alike``        its figures, whose uncertainty stands elsewhere, have the same last digit as on a `Map`
    """

    head: str
    unit: str | None = None
    uncertainty: bool = False
    sign: bool = False
    rank: int = 0
    note: str = ""
    holds_for: str = ""
    own: bool = False
    alike: bool = False


def notes_below(columns: Sequence[Column]) -> list[str]:
    """What is printed below a table that has these columns, each sentence once."""
    notes = dict.fromkeys(one.note for one in columns if one.note)
    under = by_reason((one.holds_for, unbroken(one.head)) for one in columns)
    held = (f"{', '.join(heads)}: holds for {conditions}" for conditions, heads in under)
    return [*notes, *held]


OF_UNCERTAINTY = 5
"""Added to the rank of a column for that of its uncertainty."""


class Table(NamedTuple):
    """Rows of one shape; the first cell of each names it. A column in which no row has anything is left out.

    ``most``    so many rows are printed on a terminal, the page and the data have them all; ``order`` says which.
                0: none, since the items before show them there
    ``folded``  a page shows the rows when asked; None: when they are many
    ``topics``  of each row in order; rows of one topic stand under its name on a page
    ``goes_on`` columns that a terminal has no room for stand in further tables, behind those that are ``own`` again
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    most: int | None = None
    order: str = "first"
    folded: bool | None = None
    topics: tuple[str, ...] = ()
    goes_on: bool = False


class Map(NamedTuple):
    """Figures of a grid as they are seen from the front, for a terminal: a page has a plot and a table of them.

    ``marked``  row and column, counted from 1, that the words below the map are about
    """

    title: str
    unit: str
    cells: tuple[tuple[Quantity, ...], ...]
    sign: bool = False
    marked: tuple[int, int] | None = None


class Words(NamedTuple):
    """A sentence.

    ``about``: "" plain, "method" how the figures were had, "definition" what a name means, "warning" what must not be
    missed, "quote" to the letter.
    """

    text: str
    about: str = ""
    level: int = 0


class Heading(NamedTuple):
    """Begins a part of a section; plots whose ``under`` is its title stand below it on a page."""

    title: str
    about: str = ""


class Judged(NamedTuple):
    """A verdict, what it is about, and the sentences that it rests on."""

    verdict: Verdict
    title: str
    because: tuple[Words, ...]


class Named(NamedTuple):
    """Names and texts, such as conditions; those without a text are left out."""

    rows: tuple[tuple[str, str], ...]


Item = Line | Together | Table | Map | Words | Heading | Judged | Named


@dataclass(frozen=True, slots=True)
class Section:
    """One block of a report: its name, what it is in a few words, and its items in order."""

    block: str
    title: str
    about: str
    items: tuple[Item, ...]


def ending(missing: str, method: str) -> tuple[Words, ...]:
    """The end of most sections: what was not measured, and how the figures were had."""
    lacking = (Words(f"incomplete: {missing}", "warning"),) if missing else ()
    return (*lacking, *((Words(method, "method"),) if method else ()))
