"""Meters that are no instrument of their own: corrected, in step with the display, or recorded.

A light that swings with the refresh averages out over whole periods, and leaves no beat in the readings. An even number
of frames also covers what happens at half the rate (inversion of the cells, black frames put in between); 200 ms at
least is common practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from benchd.clock import Deadline
from benchd.errors import MeterRefused
from benchd.instruments.meter import XYZ, Meter, MeterIdentity, Reading, ReadRequest

Matrix = tuple[XYZ, XYZ, XYZ]
SHORTEST_S = 0.2
FRAMES = 2
"""A multiple of so many frames."""
ROUNDING = 1e-6
"""A whole number that lost its last bits by a division is still one."""


def synchronised(integration_s: float, refresh_hz: float) -> float:
    """The shortest time not below ``integration_s`` and 200 ms that is a multiple of two frames.

    Raises ValueError for a time or a rate that is not above zero.
    """
    if not (integration_s > 0.0 and refresh_hz > 0.0):
        raise ValueError("an integration takes time, and a refresh has a rate above zero")
    pairs = max(integration_s, SHORTEST_S) * refresh_hz / FRAMES
    return FRAMES * math.ceil(pairs - ROUNDING * max(1.0, pairs)) / refresh_hz


def longest_within(integration_s: float, refresh_hz: float) -> float:
    """The longest multiple of two frames that is not above ``integration_s``; `synchronised` where none is."""
    minimum_s = synchronised(SHORTEST_S, refresh_hz)
    if integration_s <= minimum_s:
        return minimum_s
    pairs = integration_s * refresh_hz / FRAMES
    return FRAMES * math.floor(pairs + ROUNDING * pairs) / refresh_hz


@dataclass(frozen=True, slots=True)
class WrappedMeter:
    """Identifies itself and is closed as the meter behind it."""

    meter: Meter

    def identify(self) -> MeterIdentity:
        """The meter's own answer."""
        return self.meter.identify()

    def close(self) -> None:
        """Let go of the meter."""
        self.meter.close()


@dataclass(frozen=True, slots=True)
class SynchronisedMeter(WrappedMeter):
    """The meter behind it, read for multiples of two frames, 200 ms at least.

    A reading whose time the meter chooses by itself stays so; ``longest_s`` is the longest that can be set and
    ``resolution_s`` the smallest step of its times, so that the log has what the meter does.
    """

    refresh_hz: float
    longest_s: float | None
    resolution_s: float | None = None

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """One reading; raises what the meter behind it raises."""
        return self.meter.read(replace(request, integration_s=self._whole_frames(request.integration_s)), deadline)

    def _whole_frames(self, integration_s: float | None) -> float | None:
        if integration_s is None:
            return None
        wanted_s = synchronised(integration_s, self.refresh_hz)
        if self.longest_s is not None and wanted_s > self.longest_s:
            wanted_s = longest_within(self.longest_s, self.refresh_hz)
        step_s = self.resolution_s
        return wanted_s if step_s is None else round(round(wanted_s / step_s) * step_s, 9)


@dataclass(frozen=True, slots=True)
class CorrectedMeter(WrappedMeter):
    """``meter`` seen through ``matrix``: corrected X, Y, Z = matrix times X, Y, Z. Errors are the meter's own.

    Whether the matrix belongs to this meter is checked when the bench is opened, before the first reading.
    """

    matrix: Matrix

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """The corrected reading, with the meter's own in ``uncorrected``; a status stays as the meter reported it."""
        reading = self.meter.read(request, deadline)
        if reading.xyz is None:
            return reading
        x, y, z = reading.xyz
        first, second, third = self.matrix
        xyz = (
            first[0] * x + first[1] * y + first[2] * z,
            second[0] * x + second[1] * y + second[2] * z,
            third[0] * x + third[1] * y + third[2] * z,
        )
        return replace(reading, xyz=xyz, uncorrected=reading.xyz)


class ReplayMeter:
    """Gives back ``readings`` by step and number; they come from the reader of the log."""

    def __init__(self, identity: MeterIdentity, readings: Mapping[str, Sequence[Reading]]) -> None:
        self._identity = replace(identity, driver="replay")
        self._readings = readings

    def identify(self) -> MeterIdentity:
        """The meter that the log was made with, marked as a replay."""
        return self._identity

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """The recorded reading. Raises `MeterRefused` when the log has none."""
        recorded = self._readings.get(request.step, ())
        if not 1 <= request.number <= len(recorded):
            raise MeterRefused(
                f"the log has {len(recorded)} readings of step {request.step}, and number {request.number} was "
                "requested; replay the plan that the log was made from"
            )
        return recorded[request.number - 1]

    def close(self) -> None:
        """Nothing to let go of."""
