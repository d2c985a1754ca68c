"""Intervals of 95 % in plots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from benchd.analysis.uncertainty.quantity import Quantity

Halves = tuple[float, float]
"""How far an interval reaches below and above its value."""


def halves(quantity: Quantity) -> Halves:
    """How far the 95 % interval reaches below and above a value; 0 where that is not known."""
    interval = quantity.interval
    if interval is None or quantity.value is None:
        return 0.0, 0.0
    below, above = (max(0.0, size) for size in (quantity.value - interval[0], interval[1] - quantity.value))
    return (below if math.isfinite(below) else 0.0), (above if math.isfinite(above) else 0.0)


def error_bars(axes: Any, x: Sequence[float], y: Sequence[float], several: Sequence[Halves], **style: Any) -> None:
    """The intervals of a series, each with both of its ends; nothing where none is known."""
    if any(map(any, several)):
        axes.errorbar(x, y, yerr=list(zip(*several, strict=True)), fmt="none", **style)
