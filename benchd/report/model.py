"""A report as data: sections of lines, tables and words, which one renderer draws on a terminal and one on a page."""

from __future__ import annotations

from dataclasses import dataclass

from benchd.analysis.uncertainty.quantity import Quantity

Value = Quantity | str | int | float | None
"""What stands in a cell: a figure with its uncertainty, a word, a number that is exact, or nothing."""


@dataclass(frozen=True, slots=True)
class Line:
    """One figure on a line of its own: ``white   384.6 ± 2.1 cd/m2   k = 1.96, n 3   also``.

    ``unit``  as of `benchd.analysis.catalogue_figure.Figure`
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


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. ``unit`` None: words or exact numbers. ``uncertainty``: U (or its ends) stands beside."""

    head: str
    unit: str | None = None
    uncertainty: bool = False
    sign: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one shape; the first cell of each names it. ``most`` rows are shown, the data have them all.

    ``groups``: (title, number of rows), in order. A column in which no row has anything is left out.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    most: int | None = None
    groups: tuple[tuple[str, int], ...] = ()
    folded: bool | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """A sentence. ``about``: "" plain, "method" how the figures were had, "warning" what must not be missed."""

    text: str
    about: str = ""


Item = Line | Table | Words


@dataclass(frozen=True, slots=True)
class Section:
    """One block of a report: its name, what it is in a few words, and its items in order."""

    block: str
    title: str
    about: str
    items: tuple[Item, ...]
