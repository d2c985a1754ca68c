"""The light meter, as the sequencer sees it: three methods.

A reading is XYZ in cd/m2 for the CIE 1931 2-degree observer. Under and over range are data (a status),
not errors; an error means that there is no reading.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from benchd.clock import Deadline

XYZ = tuple[float, float, float]

FOOT_LAMBERT_CD_M2 = 3.4262590996353905
"""One foot-lambert in cd/m2: 1/pi candela per square foot, the foot being exactly 0.3048 m."""


class Status(StrEnum):
    """What a reading is worth."""

    OK = "ok"
    UNDER = "under"  # below what the meter can measure: an upper bound at best
    OVER = "over"  # above it: a lower bound at best
    UNSTABLE = "unstable"  # the meter itself reports that the light changed while it integrated


@dataclass(frozen=True, slots=True)
class MeterIdentity:
    """Which meter: model and serial number decide, never the port."""

    model: str
    serial_number: str
    firmware: str
    driver: str  # such as "serial:terse-line", "command" or "replay"
    address: str  # port name or command, for the log only
    simulated: bool
    floor_cd_m2: float | None = None  # lower end of the specified luminance range, where known
    ceiling_cd_m2: float | None = None
    calibrated: str | None = None  # date of the last calibration, where the meter reports it

    def same_meter(self, other: MeterIdentity) -> bool:
        """True when both are the same instrument, whatever the port."""
        return (self.model, self.serial_number) == (other.model, other.serial_number)


@dataclass(frozen=True, slots=True)
class ReadRequest:
    """One requested reading."""

    step: str
    number: int  # 1 for the first reading of this attempt
    integration_s: float | None = None  # None: the meter decides


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading."""

    xyz: XYZ | None  # cd/m2; None where the meter gave no figure (under or over range)
    status: Status
    integration_s: float | None
    raw: str  # the meter's own answer, for checks
    elapsed_s: float  # bench time from question to answer
    after_s: float | None = None  # of a series: bench time from the patch on the screen to the reading's beginning
    uncorrected: XYZ | None = None  # as the meter read it, where ``xyz`` was corrected


class Meter(Protocol):
    """Three methods. ``identify`` and ``read`` raise a `MeterError`; ``close`` never raises."""

    def identify(self) -> MeterIdentity:
        """Identify the meter (again: the cable may have been swapped)."""

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """One reading. The driver may give up before ``deadline``, never after."""

    def close(self) -> None:
        """Let go of the port."""
