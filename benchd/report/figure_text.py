"""One quantity as text: value or bound, unit, what it rests on, and the note that belongs to it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import chain

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.report.digits import (
    FINEST,
    Finest,
    bound,
    last_place,
    number,
    standard_deviation_percent,
    with_ends,
    with_uncertainty,
)
from benchd.report.words import wrapped

NAME = 18
FIGURE, WITH_UNCERTAINTY = 14, 20
RELATIVE = frozenset({"cd/m2", "1", "ratio"})
_STATUS = {"unstable": "flagged unstable by the meter", "over": "over range", "under": "under range"}


NO_HUE = "no hue"


def no_hue(quantity: Quantity) -> bool:
    """True for a hue difference that is absent because there is no hue, and not for want of readings."""
    return quantity.value is None and quantity.why.startswith(NO_HUE)


def bare(quantity: Quantity, kind: str, *, sign: bool = False, place: int | None = None) -> str:
    """The figure without its unit, for a table whose head names it; ``-`` when absent.

    A ``!`` marks a value that the meter did not call ok. ``place`` as of `benchd.report.digits.number`.
    """
    if quantity.value is None:
        return "-"
    if quantity.bound is not None:
        return bound(quantity, kind)
    mark = "!" if quantity.status in _STATUS else ""
    return mark + number(quantity.value, kind, quantity.s, sign=sign, place=place)


def common_place(cells: Iterable[object], kind: str, *, sign: bool = False) -> int:
    """The last digit of figures that are looked at together, such as a map's: on a terminal, a plot and a page alike.

    The standard deviation of all of them decides it: that of three readings in one cell is too badly known to be worth
    a ragged map.
    """
    known = [one for one in cells if isinstance(one, Quantity) and one.plain and one.value is not None]
    squares = [one.s**2 for one in known if one.s is not None]
    pooled = math.sqrt(math.fsum(squares) / len(squares)) if squares else None
    largest = max((abs(one.value) for one in known if one.value is not None), default=0.0)
    return last_place(largest, pooled, FINEST.get(kind, Finest()), difference=sign)


def map_texts(cells: Sequence[Sequence[Quantity]], kind: str, *, sign: bool = False) -> list[list[str]]:
    """The figures of a map as `bare` has them, each to their `common_place`."""
    place = common_place(chain(*cells), kind, sign=sign)
    return [[bare(cell, kind, sign=sign, place=place) for cell in row] for row in cells]


def value_and_interval(quantity: Quantity, kind: str, *, sign: bool = False) -> tuple[str, str]:
    """The figure, and what is known of it at 95 %, both without unit: ``349.9`` and ``± 4.4``, or ``1.08 to 2.40``.

    The two ends stand there where the interval is not symmetrical; "" where nothing is known. "–" when absent.
    """
    if quantity.value is None:
        return "–", ""
    stated = quantity.stated
    if quantity.bound is not None or stated is None:
        known = bound(quantity, kind) if quantity.bound else number(quantity.value, kind, quantity.s, sign=sign)
        return known, ""
    text, wide = with_uncertainty(quantity.value, stated.expanded, kind, sign=sign)
    if stated.expanded <= 0.0:
        return text, ""
    if stated.k is not None:
        return text, f"± {wide}"
    text, low, high = with_ends(quantity.value, stated.low, stated.high, kind, sign=sign)
    return text, f"{low} to {high}"


def figure(quantity: Quantity, kind: str, unit: str, *, sign: bool = False) -> str:
    """The figure with ``unit``, which carries its own space, and its uncertainty where that is known.

    ``384.6 ± 2.1 cd/m2``, ``1098:1 ± 7``, ``0.42 (0.31 to 0.60)`` where the interval is not symmetrical,
    ``> 82 000:1``, ``absent``.
    """
    if quantity.value is None:
        return "absent"
    text, interval = value_and_interval(quantity, kind, sign=sign)
    if " to " in interval:
        return f"{text}{unit} ({interval})"
    # A unit with a space of its own is that of both numbers; ":1" belongs to the ratio.
    after = unit.startswith(" ")
    return f"{text}{'' if after else unit} {interval}".rstrip() + (unit if after else "")


def beside_reach(quantity: Quantity, kind: str, *, sign: bool = False) -> str:
    """The figure to the same digit as its `reach` in the next column; as `bare` where that is empty."""
    text, interval = value_and_interval(quantity, kind, sign=sign)
    mark = "!" if quantity.status in _STATUS else ""
    return mark + text if interval else bare(quantity, kind, sign=sign)


def reach(quantity: Quantity, kind: str) -> str:
    """The expanded uncertainty alone, for a column of a table, or both ends; empty where it is not known."""
    return value_and_interval(quantity, kind)[1].removeprefix("± ")


def evidence(quantity: Quantity, kind: str) -> str:
    """What a figure rests on: ``k = 1.96, n 3, s 0.05 %``; the status where the meter did not call it ok."""
    parts = []
    stated = quantity.stated
    if stated is not None and stated.k is not None and stated.expanded > 0.0:
        parts.append(f"k = {stated.k:.2f}")
    if quantity.value is not None:
        parts += [f"n {quantity.n}"] if quantity.n else []
        parts += [s] if (s := standard_deviation(quantity, kind)) else []
    if quantity.status in _STATUS:
        parts.append(_STATUS[quantity.status])
    return ", ".join(parts)


def standard_deviation(quantity: Quantity, kind: str) -> str:
    """The standard deviation of the readings; empty where there is none.

    In percent of the figure where a ratio makes sense (``s 0.05 %``), else in the figure's own unit
    (``s 0.04``): a percent of a difference or of a percentage would mislead.
    """
    if quantity.value is None or quantity.s is None or quantity.n < 2 or quantity.bound is not None:
        return ""
    if kind in RELATIVE:
        return f"s {standard_deviation_percent(quantity.value, quantity.s)}"
    return f"s {number(quantity.s, 's', quantity.s)}"


def standard_deviation_cell(quantity: Quantity, kind: str) -> str:
    """`standard_deviation` for a column that is headed so."""
    return standard_deviation(quantity, kind).removeprefix("s ")


def note_of_ratio(ratio: Quantity, black: Quantity) -> str:
    """The note of a contrast; one that it has from its black says so: ``black is below the meter's ...``."""
    return f"black is {ratio.why}" if ratio.bound is not None and ratio.why == black.why else ratio.why


def line(
    name: str,
    shown: str,
    quantity: Quantity,
    kind: str,
    *,
    width: int,
    also: Sequence[str] = (),
    note: str | None = None,
) -> list[str]:
    """One figure: name, figure, evidence, further words and its note, on as few lines as ``width`` allows.

    ``note`` takes the place of the quantity's own; it is empty where a line above has said it.
    """
    said = quantity.why if note is None else note
    parts = [evidence(quantity, kind), *(also if quantity.present else ()), said]
    wide = FIGURE if quantity.stated is None else WITH_UNCERTAINTY
    return flow([f"  {name.ljust(NAME)} {shown.ljust(wide)}", *parts], width)


def flow(parts: Sequence[str], width: int) -> list[str]:
    """Parts one after another, three blanks apart; a part that no longer fits begins a new line."""
    indent = " " * (NAME + 3)
    lines = [parts[0]]
    for part in parts[1:]:
        if not part:
            continue
        if len(longer := f"{lines[-1]}   {part}") <= width:
            lines[-1] = longer
        elif len(indent) + len(part) <= width:
            lines.append(indent + part)
        else:
            lines += wrapped(part, width, indent)
    return [text.rstrip() for text in lines]
