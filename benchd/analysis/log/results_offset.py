"""The shape of what was read beside the patches: the meter's dark offset, or the light of the room.

The same rules as in `benchd.analysis.results`: every figure is a `Quantity`; absent ones say why.
"""

from __future__ import annotations

from dataclasses import dataclass

from benchd.analysis.uncertainty.quantity import Quantity


@dataclass(frozen=True, slots=True)
class OffsetReading:
    """One occasion. ``minutes`` since the first record of the same ``session`` (from 1), bench time."""

    step: str
    session: int
    minutes: float
    luminance: Quantity


@dataclass(frozen=True, slots=True)
class Offset:
    """All occasions of one kind.

    ``screen``      "capped", "black" or "off": what was in front of the meter
    ``luminance``   mean of all, cd/m2; negative where the meter reads so
    ``subtracted``  from how many steps it was taken off; none unless the plan names it
    ``why``         why it was not subtracted, or what must be known where it was
    ``left_out``    steps that it could not be taken off, and why, one sentence each
    """

    block: str
    method: str
    screen: str
    readings: tuple[OffsetReading, ...]
    luminance: Quantity
    subtracted: int
    why: str
    left_out: tuple[str, ...] = ()
    missing: str = ""
