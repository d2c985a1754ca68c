"""The meter's dark offset and the light of the room, subtracted where the plan requests it by name; never else.

Net light = mean of the patch's readings - mean of the offset's readings, for each of X, Y and Z. The uncertainty of
the offset enters every patch under one name (JCGM 100), so it cancels where two patches are compared. The room's
light is subtracted only where both it and the patch are above the meter's limit, as IEC 62977-2-1:2021 requires for
black.

A pure step from log data to log data, before anything else is computed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from benchd.analysis.drift.drift import NS_PER_MIN
from benchd.analysis.log.log_data import AMBIENT, DARK_OFFSET, LogData
from benchd.analysis.log.results_run import Offset, OffsetReading
from benchd.analysis.log.room import SHARE_OF_BLACK
from benchd.analysis.log.step_data import StepData
from benchd.analysis.log.step_light import QUANTIFICATION, MeterRange
from benchd.analysis.meter_model.metrology import OFFSET
from benchd.analysis.uncertainty.quantity import Quantity, absent, merged
from benchd.analysis.uncertainty.sources import Fixed, Source, Triple, Vectors, full, lower_triangle

METHODS = {
    DARK_OFFSET: "mean of readings with the cap on the meter (Currie 1968, ISO 11843, from memory); common practice",
    AMBIENT: "mean of readings of the room's light at the meter; method after IEC 62977-2-1:2021, 5.1 and 5.2",
}
UNIT = "cd/m2"
CLOSE = 3.0
"""A figure less than so many times the meter's limit is called close to it (common practice)."""
ORDER = (1, 0, 2)  # Y first, so that one source has all of the luminance


class _Mean(NamedTuple):
    """The offset: mean X, Y, Z and what moves it."""

    xyz: Triple
    vectors: Vectors
    u: float  # standard uncertainty of Y


def subtracted(
    log_data: LogData, blocks: Iterable[Mapping[str, Any]], meter: MeterRange
) -> tuple[LogData, tuple[Offset, ...]]:
    """The log data without the offsets that the plan names, and what was found of each, named or not."""
    found: list[Offset] = []
    for entry in blocks:
        if entry["kind"] in METHODS:
            log_data, one = _of_block(log_data, entry, meter)
            found.append(one)
    return log_data, tuple(found)


def _of_block(log_data: LogData, entry: Mapping[str, Any], meter: MeterRange) -> tuple[LogData, Offset]:
    name, kind = str(entry["name"]), str(entry["kind"])
    steps = sorted(log_data.of_block(name), key=lambda one: one.records[:1])
    mean = _mean_of(kind, steps)
    luminance = _luminance(steps, mean)
    requested = bool(entry.get("subtract"))
    why = luminance.why if requested else "the plan does not request it"
    left_out: tuple[str, ...] = ()
    taken: dict[str, StepData] = {}
    if requested and mean is not None:
        limit = max(QUANTIFICATION * mean.u, meter.floor or 0.0) if kind == AMBIENT else -math.inf
        if mean.xyz[1] < limit:
            why = f"the room's light is below the meter's limit of {limit:.2g} {UNIT}, so it may be none"
        else:
            taken, left_out = _taken_off(log_data, mean, limit)
            why = _notes(log_data, taken, mean, limit) if kind == AMBIENT else ""
    offset = Offset(
        block=name,
        method=METHODS[kind],
        screen=str(entry.get("screen", "")),
        readings=tuple(_reading(log_data, one) for one in steps),
        luminance=luminance,
        subtracted=len(taken),
        why=why,
        left_out=left_out,
        missing="" if steps else "it was not read",
    )
    return (replace(log_data, measured=log_data.measured | taken, _by_block={}) if taken else log_data), offset


def _mean_of(kind: str, steps: Sequence[StepData]) -> _Mean | None:
    """Mean of all readings with figures; None where there are fewer than two.

    Its covariance is that of the single readings over their number, or where that is more, that of the occasions'
    means over theirs: a meter's zero moves with its temperature.
    """
    usable = [one for one in steps if one.mean is not None and one.covariance is not None]
    if not usable:
        return None
    figures = sum(one.figures for one in usable)
    x, y, z = (sum(one.figures * (one.mean or (0.0,) * 3)[i] for one in usable) / figures for i in range(3))
    dof = figures - len(usable)
    pooled = [sum((one.figures - 1) * (one.covariance or (0.0,) * 6)[i] for one in usable) / dof for i in range(6)]
    covariance = full([value / figures for value in pooled])
    if len(usable) > 1:
        centre, several = (x, y, z), len(usable)
        between = [
            [
                sum(((one.mean or centre)[i] - centre[i]) * ((one.mean or centre)[j] - centre[j]) for one in usable)
                / ((several - 1) * several)
                for j in range(3)
            ]
            for i in range(3)
        ]
        if between[1][1] > covariance[1][1]:
            covariance, dof = between, several - 1
    vectors: Vectors = []
    known = usable[0].metrology
    if known is not None and known.resolution is not None:
        single = [[figures * value for value in row] for row in covariance]
        kept, vectors = known.resolution.larger((x, y, z), single, float(dof), figures, f"{OFFSET}{kind}")
        covariance = [[value / figures for value in row] for row in kept]
        vectors = [(source._replace(name=f"{OFFSET}{kind}, {source.name}"), vector) for source, vector in vectors]
    rounded = math.fsum(of_y * of_y for _, (_, of_y, _) in vectors)
    factor = lower_triangle([[covariance[i][j] for j in ORDER] for i in ORDER])
    for part in range(3):
        of_y, of_x, of_z = (factor[row][part] for row in range(3))
        if of_x or of_y or of_z:
            vectors.append((Source(f"{OFFSET}{kind}", float(dof), part), (of_x, of_y, of_z)))
    return _Mean((x, y, z), vectors, math.sqrt(covariance[1][1] + rounded))


def _luminance(steps: Sequence[StepData], mean: _Mean | None) -> Quantity:
    records = merged(one.records for one in steps)
    if mean is None:
        return absent(UNIT, "fewer than two of its readings have values" if steps else "it was not read", records)
    sources = Fixed(tuple((source, vector[1]) for source, vector in mean.vectors))
    n = sum(one.figures for one in steps)
    return Quantity(mean.xyz[1], UNIT, n, mean.u * math.sqrt(n), records=records, sources=sources)


def _reading(log_data: LogData, one: StepData) -> OffsetReading:
    s = None if one.covariance is None else math.sqrt(one.covariance[1])
    light = (
        absent(UNIT, "its readings have no values", one.records)
        if one.mean is None
        else Quantity(one.mean[1], UNIT, one.n, s, records=one.records)
    )
    return OffsetReading(one.step, log_data.session_numbers.get(one.session, 0), one.mono_ns / NS_PER_MIN, light)


def _taken_off(log_data: LogData, mean: _Mean, limit: float) -> tuple[dict[str, StepData], tuple[str, ...]]:
    """Every step's net light; those below ``limit`` are left as they were read."""
    taken: dict[str, StepData] = {}
    dim: list[str] = []
    negative: Vectors = [(source, (-x, -y, -z)) for source, (x, y, z) in mean.vectors]
    for step, one in log_data.measured.items():
        if one.mean is not None and one.block not in METHODS and one.mean[1] < limit:
            dim.append(step)
        elif one.mean is not None and one.block not in METHODS:
            x, y, z = (value - off for value, off in zip(one.mean, mean.xyz, strict=True))
            taken[step] = one._replace(mean=(x, y, z), influences=(*one.influences, *negative))
    if not dim:
        return taken, ()
    return taken, (f"below the meter's limit of {limit:.2g} {UNIT}, left as read: {', '.join(dim[:3])} ({len(dim)})",)


def _notes(log_data: LogData, taken: Mapping[str, StepData], mean: _Mean, limit: float) -> str:
    """What must be known of a subtracted room: how near the limit, and how much of the darkest patch it is."""
    notes = []
    if mean.xyz[1] < CLOSE * limit:
        notes.append(f"the room's light is only {mean.xyz[1] / limit:.1f} times the meter's limit")
    darkest = min((log_data.measured[step].mean or (0.0, math.inf, 0.0))[1] for step in taken) if taken else math.inf
    if darkest < CLOSE * limit:
        notes.append(f"the darkest patch is only {darkest / limit:.1f} times the meter's limit")
    net = darkest - mean.xyz[1]
    if SHARE_OF_BLACK * mean.xyz[1] > net:
        notes.append("it is more than a twentieth of the darkest patch; darken the room")
    return "; ".join(notes)
