"""Bounds and ends of intervals in two significant digits: rounded outward, so that none claims more than is known."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from benchd.analysis.uncertainty.quantity import Quantity


def bound_digits(quantity: Quantity) -> float | None:
    """The bound rounded outward to two significant digits, for display: down for ``above``, up for ``below``.

    A value that is no bound is returned as it is.
    """
    if quantity.value is None or quantity.bound is None:
        return quantity.value
    return rounded_outward(quantity.value, up=quantity.bound == "below")


def rounded_outward(value: float, *, up: bool) -> float:
    """``value`` to two significant digits, never against ``up``: for the ends of an interval."""
    if value == 0.0:
        return value
    # Fifteen digits are what a double carries for certain: 0.005 must not become 0.0051 by its binary tail.
    digits, exponent = f"{abs(value):.14e}".split("e")
    kept, rest = int(digits[0] + digits[2]), int(digits[3:])
    away_from_zero = up == (value > 0.0)
    if rest and away_from_zero:
        kept += 1
    return math.copysign(float(f"{kept}e{int(exponent) - 1}"), value)


def plain_text(value: float) -> str:
    """``value`` of two significant digits as digits, never with an exponent: 0.000046."""
    exponent = int(f"{value:.1e}".partition("e")[2])
    text = f"{float(f'{value:.1e}'):.{max(0, 1 - exponent)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
