"""One step of a run, and where the meter is: the smallest thing that a plan becomes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from benchd.patch.model import Patch
from benchd.plan.sweep import Point

CENTRE = (0.5, 0.5)
CAPPED, CAPPED_AT = "capped", (0.0, 0.0)
SCREEN_OFF, SCREEN_OFF_AT = "screen-off", (1.0, 1.0)
ATTENDED = (CAPPED, SCREEN_OFF)
"""Places that are none: the meter has its cap on, or the display is off. The corners stand for them in a log, since no
patch is ever read there."""

SERIES_INTEGRATION_S = 0.2

At = tuple[float, float]
Labels = dict[str, str | int | float]


class Precision(NamedTuple):
    """What is requested of a patch in place of a count of readings."""

    repeatability: float  # relative standard uncertainty of the mean, from the meter's repeatability
    at_most_s: float  # on this patch, settling included
    fixed_time: bool = False  # the plan states the integration time of a reading


class Series(NamedTuple):
    """Readings over time from the moment that the patch is on the screen, without settling."""

    black_s: float  # dark before
    black_code: int  # the code of that dark
    for_s: float  # until the first reading that begins at or after it
    dense_s: float  # until then a reading every ``dense_every_s``, or as fast as the meter can
    dense_every_s: float
    later_every_s: float  # afterwards

    @property
    def about(self) -> int:
        """About how many readings, for estimates, with half a second for each."""
        dense = self.dense_s / max(self.dense_every_s, 0.5)
        return round(dense + max(0.0, self.for_s - self.dense_s) / self.later_every_s)


IMPLIED = ("readings", "precision", "series", "warm_up")
"""Procedures that follow from the other fields of a step: the digest of steps in logs before December 2026 has none."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a run: a patch, a place for the meter, and how many readings."""

    id: str  # such as "uniformity/r2c3/white"; unique in the plan
    block: str  # name of the block it belongs to; "" for the warm-up
    procedure: str  # how it is read: a name of the table `benchd.run.procedures.table`
    patch: Patch
    labels: dict[str, str | int | float]  # what analysis needs; see describe()
    place: str = "centre"  # "centre" or "r2c3"
    at: tuple[float, float] = CENTRE  # the meter's place, fractions of width and height
    readings: int = 3
    settle_s: float = 0.6
    integration_s: float | None = None
    dark: bool = False  # treated as a dark patch
    settings: Point = ()  # display controls and their values while this is measured
    precision: Precision | None = None  # read until it is reached; ``readings`` and ``settle_s`` then hold for checks
    series: Series | None = None  # readings over time instead of ``readings`` after settling

    def in_time(self, series: Series) -> Step:
        """This step as a series over time.

        A meter that decides by itself would judge its first reading by the dark before: its time is set.
        """
        integration_s = SERIES_INTEGRATION_S if self.integration_s is None else self.integration_s
        own = replace(self, precision=None, settle_s=0.0, integration_s=integration_s, dark=False)
        return replace(own, series=series, readings=series.about, procedure="series")

    @property
    def kind(self) -> Literal["measure", "warm_up"]:
        """Whether its readings are a result."""
        return "warm_up" if self.procedure in ("warm_up", "consecutive") else "measure"

    @property
    def base(self) -> str:
        """The block's name in the plan, without the point of a sweep."""
        return self.block.rpartition("/")[2]
