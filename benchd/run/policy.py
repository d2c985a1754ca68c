"""One table: what follows from an error during a run. The documentation is checked against it."""

from __future__ import annotations

from enum import StrEnum

from benchd import errors

MAX_TRIES = 3
"""Attempts at one step before the run pauses."""


class Action(StrEnum):
    """What follows."""

    AGAIN = "again"  # a new attempt at the step; after MAX_TRIES, pause
    REOPEN = "reopen"  # find the part again by its identity, then a new attempt; when it stays away, pause
    PAUSE = "pause"  # leave the loop; the operator puts it right and resumes


POLICY: dict[type[errors.BenchdError], Action] = {
    errors.MeterSilent: Action.AGAIN,
    errors.MeterHalfAnswer: Action.AGAIN,
    errors.MeterLateAnswer: Action.AGAIN,
    errors.MeterGarbled: Action.AGAIN,
    errors.MeterWrongUnit: Action.REOPEN,  # opening sends the start-up exchange, which sets the unit
    errors.MeterRefused: Action.AGAIN,
    errors.MeterLost: Action.REOPEN,
    errors.MeterBusy: Action.PAUSE,
    errors.WrongMeter: Action.PAUSE,
    errors.Implausible: Action.AGAIN,
    errors.LightChanged: Action.AGAIN,  # and the steps since the last agreeing check are measured again
    errors.ScreenLost: Action.REOPEN,
    errors.ScreenDisturbed: Action.AGAIN,
    errors.PixelMismatch: Action.AGAIN,
    errors.WrongScreen: Action.PAUSE,
    errors.CompanionLost: Action.PAUSE,
    errors.MoveNeeded: Action.PAUSE,
    errors.MoveFailed: Action.AGAIN,
    errors.OperatorNeeded: Action.PAUSE,
    errors.ControlRefused: Action.PAUSE,
    errors.ControlMismatch: Action.AGAIN,
    errors.ControlSilent: Action.AGAIN,
    errors.ControlGarbled: Action.AGAIN,
    errors.ControlAbsent: Action.PAUSE,
}


def decide(error: errors.BenchdError, tries: int) -> Action:
    """What follows from ``error`` at the ``tries``-th attempt of one step (1 for the first).

    An error that is not in the table pauses: nothing unknown is ever tried again.
    """
    return Action.PAUSE if tries >= MAX_TRIES else POLICY.get(type(error), Action.PAUSE)
