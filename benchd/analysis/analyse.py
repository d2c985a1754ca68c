"""`analyse`: the records of one log become results. Pure; the same records give the same results, always."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from benchd.analysis.absences import absences
from benchd.analysis.beat import with_beat
from benchd.analysis.correction_source import meter_of
from benchd.analysis.drift import drift, read_again
from benchd.analysis.kinds import analysis_of
from benchd.analysis.luminance import MeterRange, luminance_of
from benchd.analysis.meter_budget import stated_in
from benchd.analysis.offset import METHODS as OFFSETS
from benchd.analysis.offset import subtracted
from benchd.analysis.precision import precision_told
from benchd.analysis.repeats import repeats_in
from benchd.analysis.results import (
    SCHEMA,
    Contrast,
    Grayscale,
    Luminance,
    Patches,
    Results,
    Uniformity,
    WarmUp,
)
from benchd.analysis.results_colour import Colours, Gamut
from benchd.analysis.results_compensation import Compensation
from benchd.analysis.results_hdr import ColourLevels, Halo, Peak, Sustained, ToneCurve
from benchd.analysis.survey import Survey, collect
from benchd.analysis.sweep import Block, sweep
from benchd.analysis.target import Target, target_from
from benchd.errors import InputError
from benchd.run.records import Record

WARM_UP = "warm-up"
REFERENCE = "reference"


def analyse(records: Iterable[Record], target: Target | None = None, *, compensate: bool | None = None) -> Results:
    """Results of one log, read once in order. ``target`` None: the one that the log holds.

    ``compensate``: whether drift is taken out (`benchd.analysis.compensation`); None: as the plan says.

    Raises `InputError` for a log without its `started` record or with a head that can't be used.
    """
    with _collector_at_rest():
        return _results(collect(records), target, compensate)


@contextmanager
def _collector_at_rest() -> Iterator[None]:
    """Records and results hold no reference cycles: to look for some among a million of them costs a tenth of all."""
    at_work = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if at_work:
            gc.enable()


def _results(survey: Survey, target: Target | None, compensate: bool | None) -> Results:
    if survey.started is None:
        raise InputError("the log has no 'started' record: nothing was measured, or its head was cut off")
    started = survey.started
    head = started.body
    if target is None and head.get("target"):
        target = target_from(head["target"])
    meter = MeterRange.of(head.get("meter") or {})
    try:
        blocks = list(head.get("blocks") or ())
        survey, offsets = subtracted(survey, blocks, meter)
        survey = with_beat(survey, head)
        # The reference patch itself is never compensated: what it tells is its drift.
        drifts = tuple(drift(survey, block, meter) for block in blocks if block["kind"] == REFERENCE)
        survey, compensations = _compensated(survey, blocks, meter, compensate)
        references = {str(block["name"]) for block in blocks if block["kind"] == REFERENCE}
        survey.metrology.compare(repeats_in(survey, references))
        found = list(_blocks(survey, blocks, meter, target))
        swept = sweep(survey, blocks, {one.block: one for one in found})
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"the log's description of its blocks can't be used: {type(error).__name__} at {error}"
        ) from error
    again = [step for step in survey.warm_ups if step != WARM_UP]
    repeated = [*again, *read_again(survey, blocks)]
    return Results(
        schema=SCHEMA,
        simulated=survey.simulated,
        virtual_time=bool(head.get("virtual_time")),
        sample=str(head.get("sample") or ""),
        note=str(head.get("note") or ""),
        plan=str((head.get("plan") or {}).get("name", "")),
        target=target,
        meter=meter_of(head),
        screen=dict(head.get("screen") or {}),
        settings=dict(head.get("settings") or {}),
        versions=dict(head.get("versions") or {}),
        started=started.wall,
        sessions=survey.sessions,
        interrupted=not survey.ended,
        steps_planned=int(head.get("steps") or 0),
        steps_done=len(survey.measured) - len(repeated),
        readings=survey.readings - sum(survey.measured[step].n for step in repeated),
        faults=survey.faults,
        warm_up=_warm_up(survey, WARM_UP, meter),
        luminance=tuple(one for one in found if isinstance(one, Luminance)),
        contrast=tuple(one for one in found if isinstance(one, Contrast)),
        grayscale=tuple(one for one in found if isinstance(one, Grayscale)),
        uniformity=tuple(one for one in found if isinstance(one, Uniformity)),
        patches=tuple(one for one in found if isinstance(one, Patches)),
        gamut=tuple(one for one in found if isinstance(one, Gamut)),
        colours=tuple(one for one in found if isinstance(one, Colours)),
        peak=tuple(one for one in found if isinstance(one, Peak)),
        sustained=tuple(one for one in found if isinstance(one, Sustained)),
        tone_curve=tuple(one for one in found if isinstance(one, ToneCurve)),
        halo=tuple(one for one in found if isinstance(one, Halo)),
        colour_levels=tuple(one for one in found if isinstance(one, ColourLevels)),
        absent=tuple(absent for one in (*found, *drifts, *offsets) for absent in absences(one)),
        later_warm_ups=tuple(one for one in (_warm_up(survey, step, meter) for step in again) if one),
        sweep=swept,
        drift=drifts,
        uncertainty=stated_in(head, started.wall),
        imported=str((head.get("imported") or {}).get("file", "")),
        compensation=compensations,
        offsets=offsets,
        precision=precision_told(survey.precisions),
    )


BESIDE = (REFERENCE, *OFFSETS)
"""Kinds that are no results of the display, but tell what happened to them."""


def _compensated(
    survey: Survey, blocks: Iterable[Mapping[str, Any]], meter: MeterRange, wanted: bool | None
) -> tuple[Survey, tuple[Compensation, ...]]:
    """As `benchd.analysis.compensation` says, which is imported only where a reference patch was read."""
    if all(block["kind"] != REFERENCE for block in blocks):
        return survey, ()
    from benchd.analysis.compensation import compensated

    return compensated(survey, blocks, meter, wanted)


def _blocks(
    survey: Survey, blocks: Iterable[Mapping[str, Any]], meter: MeterRange, target: Target | None
) -> Iterator[Block]:
    for block in blocks:
        kind = block["kind"]
        if analysis := analysis_of(kind):
            yield analysis(survey, block, meter, target)
        elif kind not in BESIDE:
            raise InputError(f"the log has a block of the unknown kind {kind!r}; a newer benchd made it")


def _warm_up(survey: Survey, step: str, meter: MeterRange) -> WarmUp | None:
    done = survey.warm_ups.get(step)
    if done is None:
        return None
    minutes = done.get("minutes")
    return WarmUp(
        stable=bool(done.get("stable")),
        minutes=None if minutes is None else float(minutes),
        luminance=luminance_of(survey.measured.get(step), meter),
    )
