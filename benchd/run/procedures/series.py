"""Readings over time: how a bright patch behaves from the moment that it is on the screen, without settling."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from benchd.clock import Clock
from benchd.instruments.meter import Reading
from benchd.patch.model import Patch, grey
from benchd.plan.step import Series, Step
from benchd.run.rig import Performed, StepRig

MIN_EVERY_S = 0.05
"""No meter is faster, and time must pass between two readings, on every clock."""


def perform(step: Step, rig: StepRig) -> Performed:
    """Dark, then read from the moment the patch is on; what changes in it is the result, so no reading is judged."""
    series = step.series
    assert series is not None
    rig.put(Patch("field", grey(series.black_code), step.patch.bits, transfer=step.patch.transfer))
    rig.sleep(series.black_s)
    rig.show()
    return Performed({"readings": read_series(series, rig.clock, partial(rig.read, step), rig.sleep)})


def read_series(
    series: Series, clock: Clock, read: Callable[[int, float], Reading], sleep: Callable[[float], None]
) -> int:
    """Read from now on until the series is over; how many readings it took.

    ``read(number, began_s)`` takes one reading and keeps it, with the seconds from ``began_s`` (bench time) to its
    beginning in ``after_s``. What is recorded decides what follows, never the clock beside it: a replay takes as many.
    """
    began_s = clock.now_s()
    number = 0
    while True:
        number += 1
        reading = read(number, began_s)
        after_s = reading.after_s if reading.after_s is not None else clock.now_s() - began_s
        if after_s >= series.for_s:
            return number
        dense = after_s + series.dense_every_s < series.dense_s
        every_s = max(series.dense_every_s if dense else series.later_every_s, MIN_EVERY_S)
        # The end is always read, and right on time.
        sleep(max(0.0, began_s + min(after_s + every_s, series.for_s) - clock.now_s()))
