"""Numbers as text: as many digits as the standard deviation supports, bounds rounded outward, thousands in groups.

The last digit shown is never finer than the first significant digit of the standard deviation s (after JCGM 100:2008,
7.2.6, from memory: the digits of a figure follow those of its uncertainty), and never finer than what the
kind of figure is worth in this trade (`FINEST`, common practice). An s of zero or an unknown one
leaves the kind's own rule. One significant digit is left, so that a noisy figure is not
printed as zero; only a difference may be zero within its s.
Groups of three digits are set apart by a space from five digits on (SI Brochure, 5.4.4, from memory).
"""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal
from typing import NamedTuple

from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.rounding import bound_digits

_WIDE = Context(prec=400)  # every float fits: rounding to a place never runs out of digits


class Finest(NamedTuple):
    """The finest digits that make sense: at most ``significant`` digits, none beyond ``decimals``."""

    significant: int = 4
    decimals: int = 9


FINEST = {
    "cd/m2": Finest(significant=4, decimals=6),
    "1": Finest(significant=4, decimals=4),
    "ratio": Finest(significant=4, decimals=4),
    "K": Finest(significant=6, decimals=0),
    "%": Finest(significant=4, decimals=2),
    "%/s": Finest(significant=4, decimals=2),
    "%/h": Finest(significant=4, decimals=2),
    "xy": Finest(significant=5, decimals=4),
    "u'v'": Finest(significant=5, decimals=4),
    "Duv": Finest(significant=5, decimals=4),
    "dE ITP": Finest(significant=4, decimals=2),
    "codes": Finest(significant=4, decimals=1),
    "dE00": Finest(significant=4, decimals=2),
    "gamma": Finest(significant=4, decimals=2),
    "residual": Finest(significant=2, decimals=4),
    "balance": Finest(significant=4, decimals=3),
    "deg": Finest(significant=4, decimals=1),
    "volume": Finest(significant=4, decimals=0),
    "s": Finest(significant=1, decimals=6),
}
"""What each kind of figure is worth. A kind that is not listed gets four significant digits."""

_OF_PATHS = {
    **dict.fromkeys(("x", "y", "u_prime", "v_prime"), "xy"),
    "cct": "K",
    "duv": "Duv",
    "gamma": "gamma",
    "delta_uv": "u'v'",
}
"""How the last word of a path ends -> the kind of its digits."""

AMOUNTS = frozenset({"cd/m2", "1", "ratio", "", "s"})
"""Kinds whose value, where it is not zero, is never printed as zero: ``1.05e-9`` where its digits end too early."""

_FINEST_FLOAT = 400
"""More decimals than any number has."""

TELLING_ZEROS = 4
"""An exact zero is printed with its kind's decimals up to this many; more would only be noise."""


SIGNED = frozenset({"Duv"})
"""Kinds of figure that are printed with their sign everywhere."""


def digits_of(path: str, unit: str) -> str:
    """The kind of digits (a key of `FINEST`) that a figure is worth by its path, where its unit alone does not say."""
    if "delta_e" in path:
        return "dE00"
    last = f"_{path.rpartition('/')[2]}"
    return next((kind for end, kind in _OF_PATHS.items() if last.endswith(f"_{end}")), unit)


def first_place(value: float) -> int:
    """The decimal exponent of the first significant digit: 384.6 -> 2, 0.05 -> -2. ``value`` is not 0."""
    return Decimal(repr(abs(value))).adjusted()


def last_place(value: float, s: float | None, finest: Finest, *, difference: bool = False) -> int:
    """The decimal exponent of the last digit to show.

    A ``difference`` may well be zero within its s, and then says so; any other figure keeps a digit.
    """
    place = -finest.decimals
    if value:
        place = max(place, first_place(value) - finest.significant + 1)
    if s:
        place = max(place, first_place(s))
        if value and not difference:
            place = min(place, max(first_place(value), -finest.decimals))
    return place


def rounded(value: float, place: int, rounding: str = ROUND_HALF_EVEN) -> str:
    """``value`` to the decimal exponent ``place``, in plain digits, thousands grouped, never ``-0``."""
    kept = Decimal(repr(value)).quantize(Decimal(1).scaleb(place), rounding, _WIDE)
    text = format(abs(kept), "f") if kept == 0 else format(kept, "f")
    return grouped(text)


def with_uncertainty(value: float, expanded: float, kind: str = "", *, sign: bool = False) -> tuple[str, str]:
    """A value and its expanded uncertainty, both to the second significant digit of the uncertainty.

    After JCGM 100:2008, 7.2.6 (from memory): two digits of it, its value rounded to the same place. Never finer than
    one decimal more than the kind's own, and the uncertainty is rounded up where it would vanish there.
    Raises ValueError for a figure that is not finite.
    """
    if not (math.isfinite(value) and math.isfinite(expanded)):
        raise ValueError(f"{value} with {expanded} is not a figure that can be shown")
    finest = -FINEST.get(kind, Finest()).decimals - 1
    if expanded <= 0.0:
        return number(value, kind, sign=sign), "0"
    # 0.0996 has its second digit at 0.010 once it is rounded.
    place = max(first_place(float(f"{expanded:.1e}")) - 1, finest)
    reach = rounded(expanded, place)
    if not reach.strip("0. "):
        reach = rounded(expanded, place, ROUND_CEILING)
    text = rounded(value, place)
    if kind in AMOUNTS and value and _is_zero(text) and (abs(value) >= expanded or expanded < 10.0**finest):
        power = first_place(value)
        digits = min(max(power - first_place(expanded) + 1, 1), 6)
        parts = (Decimal(repr(one)).scaleb(-power) for one in (value, expanded))
        text, reach = (f"{part:.{digits}f}e{power}" for part in parts)
        return (f"+{text}" if sign and value > 0 else text), reach
    return (f"+{text}" if sign and value > 0 and not _is_zero(text) else text), reach


LONG = 10.0
"""Halves of a skew interval that differ by more have digits of their own: the long one's would round the other away."""


def with_ends(value: float, low: float, high: float, kind: str = "", *, sign: bool = False) -> tuple[str, str, str]:
    """A value and both ends of its skew interval: to the second digit of half its width, or each of its own half.

    Raises ValueError for a figure that is not finite.
    """
    below, above = value - low, high - value
    shorter, longer = sorted((below, above))
    if shorter <= 0.0 or longer <= LONG * shorter:
        halves = [(below + above) / 2.0] * 3
    else:
        halves = [shorter, below, above]
    found = [
        with_uncertainty(one, half, kind, sign=sign)[0] for one, half in zip((value, low, high), halves, strict=True)
    ]
    return found[0], found[1], found[2]


def _is_zero(text: str) -> bool:
    return not text.strip("+-0. ")


def grouped(text: str) -> str:
    """Groups of three before the decimal point, from five digits on."""
    sign = text[: len(text) - len(text.lstrip("+-"))]
    whole, point, rest = text[len(sign) :].partition(".")
    if len(whole) >= 5:
        whole = f"{int(whole):,}".replace(",", " ")
    return sign + whole + point + rest


def number(
    value: float, kind: str = "", s: float | None = None, *, sign: bool = False, place: int | None = None
) -> str:
    """``value`` with the digits that its standard deviation ``s`` and its kind (a key of `FINEST`) support.

    ``sign`` prints a plus as well: the figure is a difference. ``place``: the decimal exponent of its last digit, where
    that is decided already.
    Raises ValueError for a value that is not finite: no result may be one.
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a figure that can be shown")
    finest = FINEST.get(kind, Finest())
    if value == 0 and not s and finest.decimals > TELLING_ZEROS and place is None:
        return "0"
    text = rounded(value, last_place(value, s, finest, difference=sign) if place is None else place)
    if kind in AMOUNTS and value and not sign and _is_zero(text):
        place = last_place(value, s, Finest(3, _FINEST_FLOAT))
        return f"{Decimal(repr(value)):.{first_place(value) - place}e}"
    return f"+{text}" if sign and value > 0 and not _is_zero(text) else text


def bound(quantity: Quantity, kind: str = "") -> str:
    """``> 82 000`` or ``< 0.005``: two digits at most, rounded outward, so that the statement stays true.

    Raises ValueError for a quantity that is no bound.
    """
    if quantity.value is None or quantity.bound is None or not math.isfinite(quantity.value):
        raise ValueError(f"{quantity.value} is not a bound that can be shown")
    value, above = bound_digits(quantity) or 0.0, quantity.bound == "above"
    place = max(first_place(value) - 1, -FINEST.get(kind, Finest()).decimals) if value else 0
    text = rounded(value, place, ROUND_FLOOR if above else ROUND_CEILING)
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{'>' if above else '<'} {text}"


def standard_deviation_percent(value: float, s: float) -> str:
    """The standard deviation of the readings in percent of their mean, one or two digits: ``0.05 %``."""
    if s == 0:
        return "0 %"
    if value == 0:
        return "more than the value"
    percent = 100 * s / abs(value)
    if percent > 100:
        return "more than the value"
    return f"{rounded(percent, max(first_place(percent), -3))} %"
