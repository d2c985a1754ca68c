"""A meter with a correction: every reading is kept as the meter gave it, and corrected."""

from __future__ import annotations

from dataclasses import replace

from benchd.clock import Deadline
from benchd.instruments.meter import XYZ, Meter, MeterIdentity, Reading, ReadRequest

Matrix = tuple[XYZ, XYZ, XYZ]


class CorrectedMeter:
    """``meter`` seen through ``matrix``: corrected X, Y, Z = matrix times X, Y, Z. Errors are the meter's own.

    Whether the matrix belongs to this meter is checked when the bench is opened, before the first reading.
    """

    def __init__(self, meter: Meter, matrix: Matrix) -> None:
        self.meter = meter
        self._matrix = matrix

    def identify(self) -> MeterIdentity:
        """The meter's own answer."""
        return self.meter.identify()

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """The corrected reading, with the meter's own in ``uncorrected``; a status stays as the meter reported it."""
        reading = self.meter.read(request, deadline)
        if reading.xyz is None:
            return reading
        x, y, z = reading.xyz
        first, second, third = self._matrix
        xyz = (
            first[0] * x + first[1] * y + first[2] * z,
            second[0] * x + second[1] * y + second[2] * z,
            third[0] * x + third[1] * y + third[2] * z,
        )
        return replace(reading, xyz=xyz, uncorrected=reading.xyz)

    def close(self) -> None:
        """Let go of the meter."""
        self.meter.close()
