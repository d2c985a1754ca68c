"""The end of a warm-up: consecutive readings of one patch, which show for how long the noise of a reading lasts.

Three to five correlated readings of a patch differ too little and carry little information on their mean; they can't
show it themselves. So a warm-up ends with at least 60 readings, one after the other as the plan reads its patches, and
its log keeps their correlation by lag in seconds (`benchd.autocorrelation`). Where that is long, more are read until
they hold twenty times the memory of the noise, at most `MAX_READINGS`. Readings are counted, not seconds, for replays.

They are a step of their own beside those of the plan, so that a kill among them costs no second warm-up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from benchd.autocorrelation import FEWEST, Autocorrelation, autocorrelation
from benchd.instruments.meter import Reading
from benchd.plan.step import Step
from benchd.run.log.records import CONSECUTIVE, Body, RunState
from benchd.run.rig import Performed, StepRig

MAX_READINGS = 300
MEMORIES = 20.0
"""Independent readings that are wanted."""
MORE = 20
"""Readings that are taken at least before the next test."""


def warm_ups(step: Step, steps: Sequence[Step], state: RunState, *, again: bool) -> Iterator[Step]:
    """What is to be done of a plan's warm-up ``step``: itself (or once more after a pause), then its last readings.

    Those are taken as the first bright one of ``steps`` is. They come before everything else or not at all: a log that
    went on without them is of an older benchd.
    """
    if step.id not in state.done:
        yield step
    elif again and (anew := replace(step, id=f"{step.id}/{state.sessions}")).id not in state.done:
        yield anew
    if CONSECUTIVE not in state.done and all(name.startswith(step.id) for name in state.done):
        like = next((one for one in steps if one.kind == "measure" and not one.dark and one.series is None), step)
        own = replace(step, id=CONSECUTIVE, procedure="consecutive")
        yield replace(own, settle_s=like.settle_s, integration_s=like.integration_s)


def perform(step: Step, rig: StepRig) -> Performed:
    """Show, settle, read on."""
    rig.show()
    rig.sleep(step.settle_s)
    return Performed(read_on(partial(rig.read_judged, step), rig.clock.now_s))


def read_on(read: Callable[[int], Reading], now_s: Callable[[], float]) -> Body:
    """What ``done`` states of them: how many, and ``serial``; that is None where nothing is known.

    ``read``: takes the reading of that number (from 1) and keeps it; ``now_s``: bench time, read after each.
    """
    readings: list[Reading] = []
    times_s: list[float] = []
    wanted = FEWEST
    while True:
        while len(readings) < wanted:
            readings.append(read(len(readings) + 1))
            times_s.append(now_s())
        spacing_s = round((times_s[-1] - times_s[0]) / (len(times_s) - 1), 4)
        found = [autocorrelation(values, spacing_s) for values in _channels(readings)]
        memory = max((one.memory for one in found if one is not None), default=0.0)
        if wanted >= MAX_READINGS or MEMORIES * memory <= wanted:
            break
        wanted = min(MAX_READINGS, max(wanted + MORE, math.ceil(MEMORIES * memory)))
    return {"readings": len(readings), "serial": _body(found, spacing_s)}


def _channels(readings: Sequence[Reading]) -> list[list[float]]:
    """Y, X / Y, Z / Y; nothing where a reading has no light."""
    figures = [one.xyz for one in readings if one.xyz is not None and one.xyz[1] > 0.0]
    if len(figures) < len(readings):
        return []
    return [[y for _, y, _ in figures], [x / y for x, y, _ in figures], [z / y for _, y, z in figures]]


def _body(found: Sequence[Autocorrelation | None], spacing_s: float) -> Body | None:
    if not found or found[0] is None:
        return None
    colours = [one for one in found[1:] if one is not None]
    # Of both ratios the one whose noise lasts longer: the interval of a colour holds whichever it was.
    colour = max(colours, key=lambda one: one.memory, default=None)
    body: Body = {"spacing_s": spacing_s, "luminance": _rows(found[0])}
    return body if colour is None else body | {"colour": _rows(colour)}


def _rows(found: Autocorrelation) -> list[list[float]]:
    return [[float(f"{value:.6g}") for value in lag] for lag in found.lags]
