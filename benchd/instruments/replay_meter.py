"""A recorded log as a meter: the same plan gives the same readings again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchd.clock import Deadline
from benchd.errors import MeterRefused
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest


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
