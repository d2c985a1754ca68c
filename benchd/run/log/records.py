"""The kinds of record in a log, the envelope around them, and `fold`: records become the state of a run.

This file is what analysis may import: plain values, standard library only.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

LOG_VERSION = 1
CENTRE = (0.5, 0.5)

KINDS = {
    "started": "first record: plan and profiles verbatim, digest of the steps, identities, versions, SIMULATED or not",
    "moved": "the meter is at another place: by the operator (confirmed) or by a mover",
    "set": "a control of the display was set (or put back) and read back",
    "shown": "a patch is on the screen, with what was read back",
    "settled": "the patch has settled: the readings before, of this attempt, do not count",
    "rested": "an emissive panel was dark for a while between two readings",
    "reading": "one reading of the meter",
    "fault": "something went wrong, and what follows from it",
    "done": "the step is complete; its readings of this attempt count",
    "checked": "a first bright and dark patch were read again and agree: what was done since stands",
    "invalidated": "the light changed since the last check, or the operator acts anew: the steps are measured again",
    "skipped": "the operator did not set the display but skipped this point of the sweep: its steps are left out",
    "confirmation": "the light did not change where the operator was to set or move: whether it was done, as answered",
    "paused": "the run left the loop and can be resumed",
    "resumed": "the run goes on: identities, versions and environment afresh",
    "ended": "the last record: every step is done",
}
"""Every record kind with its meaning; the documentation is checked against this table."""
KIND_BEFORE = {"doubted": "invalidated"}
KEYS_BEFORE = {
    "done": {"anchor": "reference_check"},
    "checked": {"anchors": "reference_checks"},
    "invalidated": {"anchors_dropped": "reference_checks_dropped"},
}
VALUES_BEFORE = {
    "moved": {"by": {"hand": "operator"}},
    "set": {"by": {"hand": "operator"}},
    "started": {"sample": dict.fromkeys(("sample", "check", "repeat", "correction"), "")},  # nobody had named it
}
"""Names in earlier logs, of kinds, of keys in their bodies and of values there, which are read as those of now."""

Body = dict[str, Any]


class Record(NamedTuple):
    """One line of a log. ``wall`` is a label; ``mono_ns`` is bench time within ``session``."""

    seq: int
    wall: str
    session: str
    mono_ns: int
    kind: str
    step: str
    attempt: int
    body: Body


def as_now(record: Record) -> Record:
    """The record of an earlier log under the names of now."""
    kind = KIND_BEFORE.get(record.kind, record.kind)
    keys = KEYS_BEFORE.get(kind, {})
    body = {keys.get(key, key): value for key, value in record.body.items()}
    for key, values in VALUES_BEFORE.get(kind, {}).items():
        if body.get(key) in values:
            body[key] = values[body[key]]
    return record if kind == record.kind and body == record.body else record._replace(kind=kind, body=body)


class CheckedPatch(NamedTuple):
    """The patch of a reference check: its step, and what it read last."""

    step: str
    luminance_cd_m2: float


WARM_UP = "warm-up"
"""The step of the plan's warm-up; what the names of later ones begin with."""
CONSECUTIVE = "warm-up/consecutive"
"""The step of the readings at the end of a warm-up (`benchd.run.procedures.consecutive`)."""
_ADDED = re.compile(rf"^warm-up/\d+$|^{CONSECUTIVE}$|/again-\d+$")


def is_added(step: str) -> bool:
    """True for the name of a step that a run or a resume put between those of the plan."""
    return bool(_ADDED.search(step))


@dataclass(slots=True)
class RunState:
    """The state of a run from its log: enough to go on with it."""

    started: Record | None = None
    done: dict[str, int] = field(default_factory=dict)  # step -> attempt that counts
    skipped: set[str] = field(default_factory=set)  # steps that the operator left out
    attempts: dict[str, int] = field(default_factory=dict)  # step -> highest attempt begun
    counted: dict[str, int] = field(default_factory=dict)  # step -> its readings that count
    readings: int = 0  # readings of done steps
    faults: int = 0
    sessions: int = 0
    last_kind: str = ""
    last_wall: str = ""  # wall-clock label of the last record
    pause_reason: str = ""
    at: tuple[float, float] | None = None  # where the meter was last moved to, fractions of width and height
    move_to: str = ""  # the last pause requested a move of the meter there
    set_to: str = ""  # the last pause requested to set this "control=value"
    originals: dict[str, Any] = field(default_factory=dict)  # control -> what it was, until it is put back
    set_manually: set[str] = field(default_factory=set)  # controls that the operator set when they were set last
    ended: bool = False
    conditions: dict[str, list[Body]] = field(default_factory=dict)  # key -> statements, first what counts
    # "bright" and "dark": what later checks must agree with
    reference_checks: dict[str, CheckedPatch] = field(default_factory=dict)
    unchecked: dict[str, int] = field(default_factory=dict)  # done since the last look: step -> readings
    pending: dict[str, int] = field(default_factory=dict)  # readings of the attempt under way, per step
    adaptive: list[tuple[str, Body]] = field(default_factory=list)  # of steps that were read to a precision, in order

    @property
    def steps_done(self) -> int:
        """How many steps of the plan are done; no readings of the warm-up's end, no warm-up or reference again."""
        return sum(not is_added(step) for step in self.done)

    @property
    def readings_of_plan(self) -> int:
        """Readings of the plan's steps that count, as results count them."""
        return sum(count for step, count in self.counted.items() if not is_added(step))

    @property
    def readings_of_warm_up(self) -> int:
        """Those of them that the plan's warm-up took."""
        return self.counted.get(WARM_UP, 0)


def fold(records: Iterable[Record]) -> RunState:
    """The state of a run from its records, in order. Pure; the only way a run knows where it is."""
    state = RunState()
    for record in records:
        advance(state, record)
    return state


def advance(state: RunState, record: Record) -> None:
    """Take one more record into ``state``."""
    kind, step = record.kind, record.step
    state.last_kind, state.last_wall = kind, record.wall
    if kind == "moved":
        state.move_to = ""
        x, y = record.body.get("at", CENTRE)
        state.at = (float(x), float(y))
    if kind == "reading":
        _take_attempt(state, record)
        state.pending[step] = state.pending.get(step, 0) + 1
    elif kind == "settled":
        _take_attempt(state, record)
        state.pending.pop(step, None)
    elif kind == "set":
        _take_setting(state, record.body)
    elif kind == "skipped":
        state.skipped.update(record.body["steps"])
    elif kind == "shown" or kind == "moved":
        _take_attempt(state, record)
    elif kind == "done":
        state.done[step] = record.attempt
        readings = state.pending.pop(step, 0)
        state.readings += readings
        state.counted[step] = readings
        if "stable" not in record.body and "serial" not in record.body:
            state.unchecked[step] = readings
        if "precision" in record.body:
            state.adaptive.append((step, record.body["precision"]))
        if "reference_check" in record.body:
            state.reference_checks[record.body["reference_check"]] = CheckedPatch(step, record.body["luminance_cd_m2"])
    elif kind == "checked":
        for name, found in record.body["reference_checks"].items():
            state.reference_checks[name] = CheckedPatch(found["step"], found["luminance_cd_m2"])
        state.unchecked.clear()
    elif kind == "invalidated":
        _take_invalidation(state, record.body)
    elif kind == "fault":
        state.faults += 1
        if step and record.attempt > state.attempts.get(step, 0):
            state.attempts[step] = record.attempt
        state.pending.pop(step, None)
    elif kind == "started":
        state.started = record
        state.sessions += 1
        state.conditions = conditions_in(record.body)
    elif kind == "resumed":
        state.sessions += 1
        state.pause_reason = ""
        state.conditions |= conditions_in(record.body)
    elif kind == "paused":
        state.pause_reason = str(record.body.get("why", ""))
        state.move_to = str(record.body.get("move_to", ""))
        state.set_to = str(record.body.get("set_to", ""))
    elif kind == "ended":
        state.ended = True


def conditions_in(body: Body) -> dict[str, list[Body]]:
    """The conditions in the body of a `started` or a `resumed` by key; none in logs of before they were recorded."""
    return dict((body.get("conditions") or {}).get("values") or {})


def _take_attempt(state: RunState, record: Record) -> None:
    """A new attempt begins; in a salvaged log by a reading, where what began it was lost."""
    if record.attempt > state.attempts.get(record.step, 0):
        state.attempts[record.step] = record.attempt
        state.pending.pop(record.step, None)


def _take_invalidation(state: RunState, body: Body) -> None:
    for step in body["steps"]:
        state.done.pop(step, None)
        state.readings -= state.counted.pop(step, 0)
        state.unchecked.pop(step, None)
    for name in body["reference_checks_dropped"]:
        state.reference_checks.pop(name, None)
    if body.get("about") == "move":
        state.at = None  # it was never moved


def _take_setting(state: RunState, body: Body) -> None:
    name, original = body["control"], body["original"]
    state.set_to = ""
    (state.set_manually.add if body["by"] == "operator" else state.set_manually.discard)(name)
    if body["restoring"]:
        state.originals.pop(name, None)
    elif original is not None:
        state.originals.setdefault(name, original)
