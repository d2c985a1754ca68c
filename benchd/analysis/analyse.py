"""`analyse`: the records of one log become results. Pure; the same records give the same results, always."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeAlias

from benchd.analysis.colour.target import Target, target_from
from benchd.analysis.doubts import condition_doubts, coverage_doubts, operator_doubts
from benchd.analysis.log.conditions_log import recorded_conditions
from benchd.analysis.log.log_data import OFFSETS, LogData, collect
from benchd.analysis.log.step_light import MeterRange, luminance_of
from benchd.analysis.measurement import Result, analysed_block, result_part
from benchd.analysis.meter_model.beat import with_beat
from benchd.analysis.meter_model.correction_source import meter_of
from benchd.analysis.meter_model.spectral import technology_of
from benchd.analysis.meter_model.stated_sources import stated_in
from benchd.analysis.noise.serial_log import serial_results
from benchd.analysis.results import SCHEMA, Absent, Results
from benchd.errors import InputError, PackageError
from benchd.measurements import registry
from benchd.run.log.records import CONSECUTIVE, WARM_UP, Record

if TYPE_CHECKING:
    from benchd.analysis.log.results_run import Offset, PrecisionSummary, WarmUp
    from benchd.analysis.results_log import Compensation, Drift, Sweep


Block: TypeAlias = Mapping[str, Any]
BlockWork: TypeAlias = Callable[[Block], "Result | Absent"]
InOrder: TypeAlias = "Callable[[BlockWork, Sequence[Block]], Iterable[Result | Absent]]"
"""``map``, or what does the same on several cores."""


def analyse(records: Iterable[Record], target: Target | None = None, *, compensate: bool | None = None) -> Results:
    """Results of one log, read once in order. ``target`` None: the one that the log holds.

    ``compensate``: whether drift is compensated (`benchd.analysis.drift.compensation`); None: as the plan requests.

    Raises `InputError` for a log without its `started` record or with a head that can't be used.
    """
    return analysed(records, target, compensate=compensate)[0]


def analysed(
    records: Iterable[Record], target: Target | None = None, *, compensate: bool | None = None, over: InOrder = map
) -> tuple[Results, LogData]:
    """As `analyse`, with the readings that the figures were computed from: offsets subtracted, drift compensated.

    ``over``: how the work on blocks is done.
    """
    with _collector_at_rest():
        return _results(collect(records), target, compensate, over)


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


def _results(
    log_data: LogData, target: Target | None, compensate: bool | None, over: InOrder
) -> tuple[Results, LogData]:
    if log_data.started is None:
        raise InputError("the log has no 'started' record: nothing was measured, or its head was cut off")
    started = log_data.started
    head = started.body
    if target is None and head.get("target"):
        target = target_from(head["target"])
    meter = MeterRange.of(head.get("meter") or {})
    try:
        blocks = list(head.get("blocks") or ())
        log_data, offsets, drifts, read_again, compensations = _corrected(log_data, head, blocks, meter, compensate)
        references = {str(block["name"]) for block in blocks if block["kind"] == REFERENCE}
        log_data.metrology.compare_repeats(log_data.repeated(references))
        found, unread = _blocks(log_data, blocks, meter, target, offsets, over)
        swept = _swept(log_data, blocks, found, target)
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(
            f"the log's description of its blocks can't be used: {type(error).__name__} at {error}"
        ) from error
    again = [step for step in log_data.warm_ups if step != WARM_UP]
    repeated = [*again, *read_again, *([CONSECUTIVE] if CONSECUTIVE in log_data.measured else [])]
    results = Results(
        schema=SCHEMA,
        simulated=log_data.simulated,
        virtual_time=bool(head.get("virtual_time")),
        sample=str(head.get("sample") or ""),
        note=str(head.get("note") or ""),
        plan=str((head.get("plan") or {}).get("name", "")),
        target=_judging(target, head, found),
        meter=meter_of(head)
        | _resolution(log_data)
        | {"serial_correlation": serial_results(log_data.metrology.serial)},
        screen=dict(head.get("screen") or {}),
        settings=dict(head.get("settings") or {}),
        versions=dict(head.get("versions") or {}),
        started=started.wall,
        sessions=log_data.sessions,
        interrupted=not log_data.ended,
        skipped=tuple(log_data.skipped),
        steps_planned=int(head.get("steps") or 0),
        steps_done=len(log_data.measured) - len(repeated),
        readings=log_data.readings - sum(log_data.measured[step].n for step in repeated),
        faults=log_data.faults,
        warm_up=_warm_up(log_data, WARM_UP, meter),
        blocks=found,
        absent=(
            *unread,
            *(Absent(point, "the operator skipped this point of the sweep") for point in log_data.skipped),
            *(absent for one in found.values() for absent in result_part(one.kind).absences(one)),
            *(Absent(one.block, one.missing) for one in drifts if one.missing),
            *(Absent(one.block, one.missing) for one in offsets if one.missing),
        ),
        later_warm_ups=tuple(one for one in (_warm_up(log_data, step, meter) for step in again) if one),
        sweep=swept,
        drift=drifts,
        uncertainty=stated_in(head, started.wall),
        technology=technology_of(head),
        bench_s=log_data.bench_ns / 1e9,
        imported=str((head.get("imported") or {}).get("file", "")),
        compensation=compensations,
        offsets=offsets,
        precision=_precision(log_data),
        conditions=recorded_conditions(head, started.wall, log_data.conditions_later),
        doubts=(*condition_doubts(log_data, head), *operator_doubts(log_data), *coverage_doubts(log_data)),
    )
    return results, log_data


def _judging(target: Target | None, head: Mapping[str, Any], found: Mapping[str, Result]) -> Target | None:
    """The target, where it judges anything: with an HDR signal only the hues of a gamut are held against it."""
    hdr = bool((head.get("settings") or {}).get("signal"))
    return None if hdr and not any(result_part(one.kind).target_in_hdr for one in found.values()) else target


def _resolution(log_data: LogData) -> dict[str, Any]:
    found = log_data.metrology.resolution
    return {} if found is None else {"resolution": found.words()}


REFERENCE = "reference"
BESIDE = (REFERENCE, *OFFSETS)
"""Kinds that are no results of the display, but corrections of them."""


# What few logs have is imported only for these: most of the time of a small log is imports.


def _corrected(
    log_data: LogData,
    head: Mapping[str, Any],
    blocks: Sequence[Mapping[str, Any]],
    meter: MeterRange,
    wanted: bool | None,
) -> tuple[LogData, tuple[Offset, ...], tuple[Drift, ...], Sequence[str], tuple[Compensation, ...]]:
    """Offsets subtracted, the refresh beat added to the uncertainty, drift compensated; and what was found on the way.

    That is: offsets, drifts, reference readings that no plan has, compensations.
    """
    offsets: tuple[Offset, ...] = ()
    if any(block["kind"] in OFFSETS for block in blocks):
        from benchd.analysis.log.offset import subtracted

        log_data, offsets = subtracted(log_data, blocks, meter)
    log_data = with_beat(log_data, head)
    references = [block for block in blocks if block["kind"] == REFERENCE]
    if not references:
        return log_data, offsets, (), (), ()
    from benchd.analysis.drift.compensation import compensated
    from benchd.analysis.drift.drift import drift, read_again

    # The reference patch itself is never compensated: it shows the drift.
    drifts, again = tuple(drift(log_data, block, meter) for block in references), read_again(log_data, references)
    log_data, compensations = compensated(log_data, blocks, meter, wanted)
    return log_data, offsets, drifts, again, compensations


def _swept(
    log_data: LogData, blocks: Iterable[Mapping[str, Any]], found: Mapping[str, Result], target: Target | None
) -> Sweep | None:
    """As `benchd.analysis.sweep` says."""
    if all("settings" not in block for block in blocks):
        return None
    from benchd.analysis.sweep import sweep

    return sweep(log_data, blocks, found, target)


def _blocks(
    log_data: LogData,
    blocks: Iterable[Block],
    meter: MeterRange,
    target: Target | None,
    offsets: Sequence[Offset],
    over: InOrder,
) -> tuple[dict[str, Result], list[Absent]]:
    """The results of the blocks by name, and those whose measurement can't be used here, with the reason."""
    own: dict[str, Block] = {}
    for block in blocks:
        if (name := str(block["name"])) in own:
            raise ValueError(f"two blocks of the name {name!r}")
        if block["kind"] not in BESIDE:
            own[name] = block
    logged = (log_data.started.body.get("measurements") if log_data.started else None) or {}

    def work(block: Block) -> Result | Absent:
        kind = str(block["kind"])
        try:
            registry.check_readable(kind, logged.get(kind))
            found = analysed_block(kind, log_data, block, meter, target)
        except PackageError as error:
            return Absent(str(block["name"]), str(error))
        if not offsets:
            return found
        from benchd.analysis.log.room import with_room

        noted: Result = with_room(found, offsets, meter.floor)
        return noted

    several = dict(zip(own, over(work, list(own.values())), strict=True))
    unread = [one for one in several.values() if isinstance(one, Absent)]
    return {name: one for name, one in several.items() if not isinstance(one, Absent)}, unread


def _warm_up(log_data: LogData, step: str, meter: MeterRange) -> WarmUp | None:
    done = log_data.warm_ups.get(step)
    if done is None:
        return None
    from benchd.analysis.log.results_run import warm_up_of

    return warm_up_of(done, luminance_of(log_data.measured.get(step), meter))


def _precision(log_data: LogData) -> PrecisionSummary | None:
    if not log_data.precisions:
        return None
    from benchd.analysis.log.results_run import precision_summary

    return precision_summary(log_data.precisions, log_data.measured)
