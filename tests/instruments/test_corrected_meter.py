"""A meter with a correction keeps both: what it read, and what that is corrected."""

from __future__ import annotations

import pytest

from benchd.clock import Deadline
from benchd.errors import MeterRefused
from benchd.instruments.meter import MeterIdentity, Reading, ReadRequest, Status
from benchd.instruments.virtual_meters import CorrectedMeter, Matrix, ReplayMeter

IDENTITY = MeterIdentity("LAPWING", "L-7", "1", "command", "here", False)
TURN: Matrix = ((0.0, 1.0, 0.0), (0.0, 2.0, 0.0), (1.0, 1.0, 1.0))


def meter(*readings: Reading) -> CorrectedMeter:
    return CorrectedMeter(ReplayMeter(IDENTITY, {"a": readings}), TURN)


def test_a_reading_is_corrected_and_kept_as_it_was() -> None:
    reading = meter(Reading((1.0, 2.0, 3.0), Status.UNSTABLE, 0.5, "raw", 0.1)).read(
        ReadRequest("a", 1), Deadline.after(1)
    )
    assert reading == Reading((2.0, 4.0, 6.0), Status.UNSTABLE, 0.5, "raw", 0.1, uncorrected=(1.0, 2.0, 3.0))


def test_what_has_no_figure_stays_without_one() -> None:
    under = Reading(None, Status.UNDER, 0.5, "raw", 0.1)
    assert meter(under).read(ReadRequest("a", 1), Deadline.after(1)) == under


def test_identity_and_errors_are_the_meters_own() -> None:
    corrected = meter()
    assert corrected.identify().same_meter(IDENTITY)
    with pytest.raises(MeterRefused):
        corrected.read(ReadRequest("a", 1), Deadline.after(1))
    corrected.close()
