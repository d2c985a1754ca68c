"""What was asked of patches that were read to a precision, and which did not reach it.

The run decides and keeps in each ``done`` what it came to; here it is only told. The uncertainty of a result rests on
its readings, as everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Short:
    """A step that did not reach its precision: asked and reached as percent of the luminance (k = 1), and why."""

    step: str
    asked_percent: float
    reached_percent: float | None
    why: str


@dataclass(frozen=True, slots=True)
class PrecisionTold:
    """All steps that were read to a precision, and those that fell short."""

    steps: int
    short: tuple[Short, ...]


def precision_told(bodies: Mapping[str, Mapping[str, Any]]) -> PrecisionTold | None:
    """From what ``done`` said of each step; None where no precision was asked."""
    if not bodies:
        return None
    short = []
    for step, body in bodies.items():
        if not body.get("met"):
            reached = body.get("reached")
            percent = None if reached is None else 100.0 * float(reached)
            short.append(Short(step, 100.0 * float(body["asked"]), percent, str(body.get("why", ""))))
    return PrecisionTold(len(bodies), tuple(short))
