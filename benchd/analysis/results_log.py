"""What a log holds beyond its single blocks: a sweep as a table, the drift of a reference patch, and its compensation.

The same rules as in `benchd.analysis.results`: every figure is a `Quantity`; absent ones say why.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.uncertainty.quantity import Quantity

Setting = int | float | str
"""What a control of the display is set to."""


@dataclass(frozen=True, slots=True)
class SweepRow:
    """One point of a sweep.

    ``point``          as the names of its blocks begin: "preset=warm,brightness=50"
    ``figures``        every figure of the catalogue that its blocks give, by name, without the point
    ``faults``         faults of all kinds while this point was measured; ``control_faults``: those of controls,
                       such as a display that changed a setting by itself
    ``set_manually``   controls that the operator set; ``not_read_back``: others whose value can't be read back
    """

    point: str
    settings: Mapping[str, Setting]
    figures: Mapping[str, Figure]
    faults: int
    control_faults: int
    set_manually: tuple[str, ...]
    not_read_back: tuple[str, ...]

    def quantity(self, name: str) -> Quantity | None:
        """The quantity of a figure; None where no block of the point gives it."""
        found = self.figures.get(name)
        return None if found is None else found.quantity


@dataclass(frozen=True, slots=True)
class SweepRange:
    """Minimum and maximum of the leading figure over one control of numbers, all other controls as in ``others``.

    ``figure``  its name: white luminance where that was measured, else the first figure of the lowest rank
    ``minimum_at`` and ``maximum_at`` are the control's values there; None where bounds leave that open.
    Where a value was not measured the figures are bounds: the minimum is at most, the maximum at least that.
    """

    figure: str
    control: str
    others: Mapping[str, Setting]
    points: int
    minimum: Quantity
    minimum_at: Setting | None
    maximum: Quantity
    maximum_at: Setting | None
    missing: str = ""


@dataclass(frozen=True, slots=True)
class Sweep:
    """All points of a sweep. ``controls`` in the plan's order; rows by value, numbers in ascending order.

    ``not_restored``: what the display was not put back to at the end, and why, one sentence each.
    """

    method: str
    controls: tuple[str, ...]
    rows: tuple[SweepRow, ...]
    ranges: tuple[SweepRange, ...]
    not_restored: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DriftReading:
    """The reference patch once. ``minutes`` since the first one of the same ``session`` (from 1), bench time.

    ``change`` is in % of the first one of all.
    """

    step: str
    session: int
    minutes: float
    luminance: Quantity
    change: Quantity


@dataclass(frozen=True, slots=True)
class DriftSegment:
    """The reference patch within one session; bench time does not run on from one session to the next.

    ``per_hour`` is the slope of a least-squares line, % of the first reading of all per hour.
    """

    session: int
    readings: int
    minutes: float
    per_hour: Quantity


@dataclass(frozen=True, slots=True)
class ColourDrift:
    """Drift of the reference patch's colour, which compensation leaves as it is.

    ``maximum_change``  largest distance in u', v' from the first reading, at the reading ``maximum_at``, a step
    ``borne_out``        True when the course is significant beyond the noise; ``words`` then states it
    """

    maximum_change: Quantity
    maximum_at: str | None
    borne_out: bool
    words: str


@dataclass(frozen=True, slots=True)
class Drift:
    """One reference patch (of one point of a sweep), read again and again, in the order it was read.

    ``maximum_change`` is the change of largest size, % with its sign, at the reading ``maximum_at``, a step.
    ``colour`` is the same of its colour.
    """

    block: str
    method: str
    settings: Mapping[str, Setting]
    percent: float
    readings: tuple[DriftReading, ...]
    maximum_change: Quantity
    maximum_at: str | None
    segments: tuple[DriftSegment, ...]
    colour: ColourDrift
    missing: str = ""


@dataclass(frozen=True, slots=True)
class CompensatedStep:
    """One step that was compensated.

    ``drift``  change of the reference patch from its first reading to the moment of the step, %
    ``raw``    luminance as it was read; ``luminance``: as all results use it, raw / (1 + drift)
    """

    step: str
    session: int
    drift: Quantity
    raw: Quantity
    luminance: Quantity


@dataclass(frozen=True, slots=True)
class Compensation:
    """What was done with the steps that one reference patch stands for.

    ``applied``   the results use compensated luminances; else ``why`` says why not
    ``curves``    how the reference went, one sentence a session
    ``maximum``  drift of largest size at any of ``steps``, %
    ``left_out``  bright steps that stay as they were read, and why, one sentence each
    """

    block: str
    method: str
    applied: bool
    why: str
    curves: tuple[str, ...]
    maximum: Quantity
    maximum_at: str | None
    steps: tuple[CompensatedStep, ...]
    left_out: tuple[str, ...] = ()
