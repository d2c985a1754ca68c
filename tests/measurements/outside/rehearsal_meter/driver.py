"""The driver: its options in a bench, and the three methods of a meter."""

from __future__ import annotations

from collections.abc import Callable
from itertools import cycle
from typing import Literal

from benchd.api.instruments import (
    Deadline,
    DriverPart,
    Field,
    MeterIdentity,
    MeterRefused,
    ProfileModel,
    Reading,
    ReadRequest,
    Status,
)


class Answer(ProfileModel):
    """One answer."""

    xyz: tuple[float, float, float] = Field(description="X, Y, Z in cd/m2")
    status: Literal["ok", "under", "over", "unstable"] = Field(default="ok", description="what the reading is worth")


class Options(ProfileModel):
    """A meter for rehearsals."""

    model: str = Field(default="REHEARSAL", min_length=1, description="what the meter says of itself")
    serial_number: str = Field(min_length=1, description="its serial number")
    steps: dict[str, Answer] = Field(default_factory=dict, description="answers by the end of a step's name")
    others: tuple[Answer, ...] = Field(default=(), description="answers to all other steps, in turn")


class RehearsalMeter:
    """Answers as the bench says."""

    def __init__(self, options: Options, now_s: Callable[[], float]) -> None:
        self._options, self._now_s, self._others = options, now_s, cycle(options.others)

    def identify(self) -> MeterIdentity:
        """Who it is."""
        model, serial_number = self._options.model, self._options.serial_number
        return MeterIdentity(model, serial_number, "1", "rehearsal", "none", simulated=True)

    def read(self, request: ReadRequest, deadline: Deadline) -> Reading:
        """The answer to the step."""
        began_s = self._now_s()
        name = request.step.rpartition("/")[2]
        answer = self._options.steps.get(name) or next(self._others, None)
        if answer is None:
            raise MeterRefused(f"no answer is written for {request.step}; add steps: {{{name}: {{xyz: [X, Y, Z]}}}}")
        elapsed_s = self._now_s() - began_s
        return Reading(answer.xyz, Status(answer.status), request.integration_s, repr(answer.xyz), elapsed_s)

    def close(self) -> None:
        """Nothing to let go of."""


PART = DriverPart("meter", Options, RehearsalMeter)
