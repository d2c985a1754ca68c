"""One pass over the records: the readings that count, reduced to one `StepData` for each step.

Memory is bounded by the steps and by the readings of the attempt under way; a log of any length streams.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum
from typing import Any, NamedTuple

from benchd.analysis.log.luminance_only import triple
from benchd.analysis.log.step_data import SeriesReading, StepData
from benchd.analysis.meter_model.correction_source import budgets_from, correction_source
from benchd.analysis.meter_model.metrology import Metrology
from benchd.analysis.meter_model.printed_digits import Answers
from benchd.analysis.meter_model.resolution import resolution_from
from benchd.analysis.meter_model.stated_sources import bench_source
from benchd.analysis.noise.reading_noise import characterisation_noise
from benchd.analysis.noise.serial_log import decorrelated, serial_of, with_serial_correlation
from benchd.analysis.noise.step_sources import settling_of
from benchd.analysis.uncertainty.sources import Covariance, Triple
from benchd.run.log.records import CONSECUTIVE, Record

NOTHING: dict[str, Any] = {}
BLACK, CENTRE = (0, 0, 0), (0.5, 0.5)
DARK_OFFSET, AMBIENT = OFFSETS = ("dark_offset", "ambient")
"""Names of the blocks of what was read beside the patches."""
MAX_COMPARED = 2000
"""Steps of a log that are looked through for repeats of one patch."""


@dataclass(slots=True)
class LogData:
    """What the log holds for analysis: its head, one `StepData` a step, and counts."""

    started: Record | None = None
    measured: dict[str, StepData] = field(default_factory=dict)
    warm_ups: dict[str, dict[str, Any]] = field(default_factory=dict)  # step -> body of its `done`, in their order
    consecutive: dict[str, Any] | None = None  # body of the `done` of the readings at the warm-up's end
    settings: list[SetRecord] = field(default_factory=list)
    faults_at: dict[str, list[str]] = field(default_factory=dict)  # step -> names of the errors
    confirmations: dict[str, tuple[int, dict[str, Any]]] = field(default_factory=dict)  # step -> where, and its body
    not_restored: list[str] = field(default_factory=list)  # controls that were not put back, and why
    skipped: list[str] = field(default_factory=list)  # points of the sweep that the operator left out
    conditions_later: list[tuple[int, dict[str, Any]]] = field(default_factory=list)  # session, body of its `resumed`
    session_numbers: dict[str, int] = field(default_factory=dict)  # the log's names of its sessions, from 1
    precisions: dict[str, dict[str, Any]] = field(default_factory=dict)  # step -> what its `done` keeps of it
    sessions: int = 0
    bench_ns: int = 0  # of all sessions together
    readings: int = 0
    faults: int = 0
    ended: bool = False
    simulated: bool = False
    metrology: Metrology = field(default_factory=Metrology)
    placings: int = 0  # how often the meter was moved
    repeats: dict[str, list[str]] = field(default_factory=dict)  # patch, place and settings -> steps, of short logs
    points: dict[str, str] = field(default_factory=dict)  # block -> settings of the display that it is measured at
    series: dict[str, list[SeriesReading]] = field(default_factory=dict)  # step -> its readings, of series only
    _by_block: dict[str, list[StepData]] = field(default_factory=dict)

    def of_block(self, block: str) -> Sequence[StepData]:
        """The steps of one block, in the order they were done. For use once all is collected."""
        if not self._by_block:
            for measured in self.measured.values():
                self._by_block.setdefault(measured.block, []).append(measured)
        return self._by_block.get(block, ())

    def repeated(self, references: Container[str]) -> list[list[StepData]]:
        """Steps of one patch that were measured more than once, but for reference patches (they show the drift),
        warm-ups and series, which are meant to change.
        """
        groups = []
        for steps in self.repeats.values():
            names = dict.fromkeys(step for step in steps if step not in self.warm_ups and step not in self.series)
            group = [self.measured[step] for step in names if step in self.measured]
            groups.append([one for one in group if one.block not in references])
        return [group for group in groups if len(group) > 1]


@dataclass(slots=True)
class _Attempt:
    """The readings of a step since its attempt began."""

    attempt: int
    shown: dict[str, Any] | None = None
    session: str = ""
    mono_ns: int = 0
    placing: int = 0
    n: int = 0
    x: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    z: list[float] = field(default_factory=list)
    first_ns: int = 0  # of the first reading
    last_ns: int = 0  # of the last one
    integrations_s: set[float | None] = field(default_factory=set)
    marks: dict[str, int] = field(default_factory=dict)  # statuses that are not ok -> how many readings
    series: list[SeriesReading] = field(default_factory=list)
    ranges: list[int] = field(default_factory=list)  # first, last, first, last ...

    def again(self, attempt: int) -> _Attempt:
        """A new attempt under the patch that is shown."""
        return _Attempt(attempt, self.shown, self.session, self.mono_ns, self.placing)


def collect(records: Iterable[Record]) -> LogData:
    """Read the log once, in order. Readings of an attempt that has no `done` do not count.

    An attempt is over, and its readings are dropped, when the step is shown under a higher attempt number or
    a fault names the step: the same rule as the run's own fold of the log.
    """
    log_data = LogData()
    open_attempts: dict[str, _Attempt] = {}
    before: StepData | None = None  # the step that was done last
    answers: Answers | None = None
    step, attempt = "", _Attempt(0)  # the one that readings go to, looked up only when the step changes
    mono_ns = began_ns = 0
    for record in records:
        before_ns = mono_ns
        seq, _, session, mono_ns, kind, record_step, number, body = record
        if kind == "reading":
            if record_step != step or number != attempt.attempt:
                step = record_step
                attempt = _current(open_attempts, step, number)
            attempt.n += 1
            attempt.last_ns = mono_ns
            xyz = body["xyz"]
            if xyz is not None:
                x, y, z = xyz if xyz[0] is not None else triple(xyz)
                attempt.x.append(x)
                attempt.y.append(y)
                attempt.z.append(z)
            if answers is not None and xyz is not None:
                answers.see(body.get("xyz_uncorrected") or (x, y, z), body.get("raw") or "")
            if "after_s" in body:
                attempt.series.append(_of_series(body, seq))
            if body["status"] != "ok":
                attempt.marks[body["status"]] = attempt.marks.get(body["status"], 0) + 1
            attempt.integrations_s.add(body.get("integration_s"))
            ranges = attempt.ranges
            if ranges and ranges[-1] == seq - 1:
                ranges[-1] = seq
            else:
                attempt.first_ns = attempt.first_ns or mono_ns
                ranges += (seq, seq)
        elif kind == "settled":
            if record_step in open_attempts:
                open_attempts[record_step] = open_attempts[record_step].again(number)
            step = ""
        elif kind == "shown":
            step = record_step
            attempt = _current(open_attempts, step, number)
            attempt.shown, attempt.session, attempt.mono_ns = body, session, mono_ns
            attempt.placing = log_data.placings
        elif kind == "done":
            finished = open_attempts.pop(record_step, None) or _Attempt(number)
            if finished.attempt != number:
                finished = _Attempt(number)
            earlier = log_data.measured.get(record_step)
            log_data.readings += finished.n - (earlier.n if earlier else 0)
            log_data.measured[record_step] = _reduced(record_step, finished, mono_ns, log_data.metrology)
            if len(log_data.measured) <= MAX_COMPARED and record_step != CONSECUTIVE:
                _take_repeat(log_data, record_step, finished)
            if finished.series:
                log_data.series[record_step] = finished.series
            if "stable" in body:
                log_data.warm_ups[record_step] = body
            elif record_step == CONSECUTIVE:
                log_data.consecutive = body
            elif "precision" in body:
                log_data.precisions[record_step] = precision = body["precision"]
                measured = log_data.measured[record_step]
                left = settling_of(record_step, precision, measured.mean, before.mean if before else None)
                log_data.measured[record_step] = measured._replace(influences=tuple(left))
            before = log_data.measured[record_step]
            step = ""
        elif kind == "fault":
            log_data.faults += 1
            log_data.faults_at.setdefault(record_step, []).append(str(body.get("error", "")))
            if body.get("error") == "NotRestored":
                log_data.not_restored.append(str(body.get("text", "")))
            if record_step in open_attempts:
                open_attempts[record_step] = open_attempts[record_step].again(number)
            step = ""
        elif kind == "invalidated":
            for invalid in body["steps"]:
                earlier = log_data.measured.pop(invalid, None)
                log_data.readings -= earlier.n if earlier else 0
                for alike in log_data.repeats.values():
                    alike[:] = [one for one in alike if one != invalid]
        elif kind == "started" or kind == "resumed":
            log_data.sessions += 1
            log_data.bench_ns += before_ns - began_ns
            began_ns = mono_ns
            log_data.session_numbers[session] = log_data.sessions
            if kind == "resumed" and "conditions" in body:
                log_data.conditions_later.append((log_data.sessions, body))
            if kind == "started":
                log_data.started = record
                log_data.points = points_of(body)
                log_data.metrology.budget, log_data.metrology.reference = budgets_from(body, record.wall)
                log_data.metrology.correction = correction_source(body)
                log_data.metrology.bench = bench_source(body)
                answers = Answers(body)
            log_data.simulated = log_data.simulated or simulated_in(body)
        elif kind == "set":
            if not body["restoring"]:
                control, asked, read_back = body["control"], body["asked"], body["read_back"]
                log_data.settings.append(SetRecord(seq, record_step, control, asked, read_back, body["by"]))
            elif log_data.not_restored:
                begins = f"control {body['control']} "
                log_data.not_restored = [text for text in log_data.not_restored if not text.startswith(begins)]
        elif kind == "moved":
            log_data.placings += 1
        elif kind == "confirmation":
            log_data.confirmations[record_step] = (seq, body)
        elif kind == "skipped":
            log_data.skipped.append(body["point"])
        elif kind == "ended":
            log_data.ended = True
    log_data.bench_ns += mono_ns - began_ns
    # A light that is meant to change, or still warms up, shows nothing of the noise of readings.
    parts = [one for body in log_data.warm_ups.values() for one in body.get("precision", NOTHING).get("lessons", ())]
    if log_data.started is not None and answers is not None:
        log_data.metrology.resolution = resolution_from(log_data.started.body, answers)
    log_data.metrology.serial = serial_of(log_data.consecutive, log_data.series.values())
    log_data.measured = with_serial_correlation(log_data.measured, log_data.metrology.serial)
    steady = [
        one for step, one in log_data.measured.items() if step not in log_data.series and step not in log_data.warm_ups
    ]
    log_data.metrology.fit_noise(steady, decorrelated(characterisation_noise(parts), log_data.metrology.serial))
    log_data.metrology.link(log_data.measured)
    return log_data


def _take_repeat(log_data: LogData, step: str, attempt: _Attempt) -> None:
    """Steps of one patch at one placing under the same settings of the display."""
    shown = attempt.shown or NOTHING
    planned = log_data.points.get(str(shown.get("block")))
    key = (
        f"{shown.get('patch')}|{attempt.placing}|{shown.get('at')}|{planned}|{len(log_data.settings)}|{attempt.session}"
    )
    log_data.repeats.setdefault(key, []).append(step)


def _current(open_attempts: dict[str, _Attempt], step: str, number: int) -> _Attempt:
    if step not in open_attempts or open_attempts[step].attempt < number:
        open_attempts[step] = _Attempt(number)
    return open_attempts[step]


def _of_series(body: dict[str, Any], seq: int) -> SeriesReading:
    xyz = None if body["xyz"] is None else triple(body["xyz"])
    return SeriesReading(body["after_s"], body["integration_s"], xyz, body["status"], seq)


def _reduced(step: str, attempt: _Attempt, done_ns: int, metrology: Metrology) -> StepData:
    shown = attempt.shown or {}
    n, figures, marks, integrations_s = attempt.n, len(attempt.y), attempt.marks, attempt.integrations_s
    under, over = marks.get("under", 0), marks.get("over", 0)
    mean: Triple | None = None
    covariance: Covariance | None = None
    if figures:
        x, y, z = attempt.x, attempt.y, attempt.z
        mean = mean_x, mean_y, mean_z = fsum(x) / figures, fsum(y) / figures, fsum(z) / figures
        if figures > 1:
            # Two passes: the difference of large sums would lose the noise of a steady light.
            xx = yy = zz = xy = xz = yz = 0.0
            for one_x, one_y, one_z in zip(x, y, z, strict=True):
                dx, dy, dz = one_x - mean_x, one_y - mean_y, one_z - mean_z
                xx += dx * dx
                yy += dy * dy
                zz += dz * dz
                xy += dx * dy
                xz += dx * dz
                yz += dy * dz
            f = 1.0 / (figures - 1)
            covariance = f * xx, f * yy, f * zz, f * xy, f * xz, f * yz
    patch = shown.get("patch", NOTHING)
    red, green, blue = patch.get("code", BLACK)
    at_x, at_y = shown.get("at", CENTRE)
    ranges = attempt.ranges
    records = ((ranges[0], ranges[1]),) if len(ranges) == 2 else tuple(zip(ranges[::2], ranges[1::2], strict=True))
    # In the order of the fields: a step in three readings must not cost more than they do.
    return StepData(
        step,
        shown.get("block", ""),
        shown.get("role", NOTHING),
        (red, green, blue),
        patch.get("bits", 8),
        shown.get("place", "centre"),
        (at_x, at_y),
        n,
        figures,
        mean,
        covariance,
        under,
        over,
        sum(marks.values()) - under - over,
        records,
        attempt.session,
        attempt.mono_ns,
        ((attempt.first_ns or done_ns) + done_ns) // 2,
        min((one for one in integrations_s if one is not None), default=None) if None not in integrations_s else None,
        (),
        attempt.placing,
        metrology,
        round((attempt.last_ns - attempt.first_ns) / (n - 1) / 1e9, 3) or None if n > 1 else None,
    )


class SetRecord(NamedTuple):
    """A control of the display was set for a step; ``by`` says how, ``read_back`` is None where nothing could."""

    seq: int
    step: str
    control: str
    asked: int | float | str
    read_back: int | float | str | None
    by: str


def points_of(head: Mapping[str, Any]) -> dict[str, str]:
    """The settings of the display that each block is measured at, as text; blocks without any are left out."""
    blocks = head.get("blocks")
    several = [block for block in blocks if isinstance(block, dict)] if isinstance(blocks, list) else []
    return {str(block.get("name")): str(block["settings"]) for block in several if "settings" in block}


def simulated_in(body: Mapping[str, Any]) -> bool:
    """True when a simulator took part."""
    parts = (body, *(body.get(part) or {} for part in ("meter", "screen", "correction", "repeatability")))
    return any(bool(part.get("simulated")) for part in parts)
