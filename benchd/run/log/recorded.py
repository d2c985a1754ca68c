"""A log as a script: the steps that count, in their order, with the bench time of each of their records and what
happened at the bench before them.

Sessions begun, moves of the meter and settings of the display decide how uncertain a figure is (a resume puts
the meter on its place anew; drift is known within a session only), so a replay has them where the log has them.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from math import inf, nextafter
from pathlib import Path

from benchd.clock import VirtualClock
from benchd.errors import LogRefused
from benchd.instruments.meter import Reading, Status
from benchd.plan.step import Step
from benchd.run.log.bodies import what_of
from benchd.run.log.journal import Journal, LogFile
from benchd.run.log.records import CONSECUTIVE, Body, Record

BENCH_KINDS = ("resumed", "moved", "set", "confirmation")
"""Records of what happened at the bench, whatever step it was for."""


@dataclass(slots=True)
class CountedStep:
    """One step with the attempt that counts.

    ``shown``: that record; ``times``: `mono_ns` of its records by their kind, in order; ``settled``: readings taken
    before each `settled`, and that record's body; ``precision``: what `done` states of a step that was read to one.
    """

    attempt: int
    shown: Record | None = None
    readings: list[Reading] = field(default_factory=list)
    times: dict[str, deque[int]] = field(default_factory=dict)
    settled: dict[int, Body] = field(default_factory=dict)
    precision: Body | None = None


@dataclass(slots=True)
class Script:
    """What a log holds for a replay: its head, the steps that count in the order they were done, the bench."""

    started: Record | None = None
    steps: dict[str, CountedStep] = field(default_factory=dict)
    bench: list[Record] = field(default_factory=list)


def script_of(records: Iterable[Record]) -> Script:
    """One pass over the records. Readings of attempts that did not count are not in it."""
    script = Script()
    open_steps: dict[str, CountedStep] = {}
    for record in records:
        kind, step = record.kind, record.step
        if kind == "started":
            script.started = record
        elif kind in BENCH_KINDS:
            script.bench.append(record)
        elif kind == "invalidated":
            for invalid in record.body["steps"]:
                script.steps.pop(invalid, None)
        elif kind in ("shown", "reading", "settled", "done"):
            found = open_steps.get(step)
            if found is None or found.attempt != record.attempt:
                found = open_steps[step] = CountedStep(record.attempt)
            found.times.setdefault(kind, deque()).append(record.mono_ns)
            if kind == "shown":
                found.shown = record
            elif kind == "reading":
                found.readings.append(_reading(record.body))
            elif kind == "settled":
                found.settled[len(found.readings)] = record.body
            else:
                found.precision = record.body.get("precision")
                script.steps[step] = open_steps.pop(step)
    return script


def step_of(name: str, counted: CountedStep, plan: Mapping[str, Step], log: str) -> Step:
    """The plan's step of that name, or the one that was read again under it: a warm-up or a reference after a pause.

    Raises `LogRefused`: the plan has no such patch.
    """
    if name in plan:
        return plan[name]
    shown = counted.shown.body if counted.shown is not None else {}
    again = next((step for step in plan.values() if _same_patch(step, shown)), None)
    if again is None:
        raise LogRefused(log, 0, f"step {name} is none of its plan's, so there is nothing that it could be replayed as")
    return replace(again, id=name, procedure="consecutive" if name == CONSECUTIVE else again.procedure)


def _same_patch(step: Step, shown: Body) -> bool:
    wanted = json.loads(json.dumps(what_of(step)))
    return all(shown.get(key) == wanted[key] for key in ("block", "patch", "place", "at"))


class ScriptLog:
    """The log of a replay, behind the sequencer: its records have the session and the bench time of the script.

    Before a step's `shown` comes what happened at the bench since the step before. What the sequencer itself would
    write of that is left out: in a replay nothing is moved and nothing is set.
    """

    def __init__(self, script: Script, log: Journal, clock: VirtualClock) -> None:
        self._script, self._log, self._clock = script, log, clock
        self._bench = deque(script.bench)

    def append(self, kind: str, step: str = "", attempt: int = 0, body: Body | None = None) -> Record:
        """As `Journal.append`; a `moved` or `set` is returned and not written."""
        if kind in BENCH_KINDS:
            return Record(0, "", "", 0, kind, step, attempt, body or {})
        counted = self._script.steps.get(step)
        if counted is not None and kind == "shown" and counted.shown is not None:
            self._bench_until(counted.shown.seq)
            self._log.session = counted.shown.session
        if counted is not None and (times := counted.times.get(kind)):
            self._clock.set(seconds(times.popleft()))
        if kind == "ended":
            self._bench_until(inf)
        return self._log.append(kind, step, attempt, body)

    def _bench_until(self, seq: float) -> None:
        while self._bench and self._bench[0].seq < seq:
            self._log.copy(self._bench.popleft())


def seconds(mono_ns: int) -> float:
    """The bench time that a log keeps as ``mono_ns``: whole nanoseconds, cut."""
    found = mono_ns / 1e9
    while int(found * 1e9) < mono_ns:
        found = nextafter(found, inf)
    while int(found * 1e9) > mono_ns:
        found = nextafter(found, -inf)
    return found


def read_script(log: Path) -> Script:
    """The script of a log. Raises `LogRefused` for a damaged log or one with no step done."""
    script = script_of(LogFile(log).records())
    if not script.steps:
        raise LogRefused(str(log), 0, "no step is done in this log, so there is nothing to replay")
    return script


def _reading(body: Body) -> Reading:
    xyz, uncorrected = body["xyz"], body.get("xyz_uncorrected")
    return Reading(
        (xyz[0], xyz[1], xyz[2]) if xyz else None,
        Status(body["status"]),
        body["integration_s"],
        body["raw"],
        body["elapsed_s"],
        body.get("after_s"),
        (uncorrected[0], uncorrected[1], uncorrected[2]) if uncorrected else None,
    )
