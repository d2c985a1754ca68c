"""What a driver is made of: the Protocol of its role, requests and answers, and the errors that it may raise."""

from pydantic import Field

from benchd.clock import Deadline
from benchd.errors import (
    MeterBusy,
    MeterError,
    MeterGarbled,
    MeterHalfAnswer,
    MeterLost,
    MeterRefused,
    MeterSilent,
    MeterWrongUnit,
    MoveFailed,
)
from benchd.instruments.meter import Meter, MeterIdentity, Reading, ReadRequest, Status
from benchd.instruments.positioner import Positioner
from benchd.profile.driver import DriverPart
from benchd.profile.reading.base import ProfileModel

# fmt: off
__all__ = [
    "Deadline", "DriverPart", "Field", "Meter", "MeterBusy", "MeterError", "MeterGarbled", "MeterHalfAnswer",
    "MeterIdentity", "MeterLost", "MeterRefused", "MeterSilent", "MeterWrongUnit", "MoveFailed", "Positioner",
    "ProfileModel", "ReadRequest", "Reading", "Status",
]
