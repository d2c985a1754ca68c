"""What happened in a run besides its readings: faults, pauses, reference checks, in order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from benchd.run.log.records import Record

EVENT_KINDS = {"fault", "paused", "resumed", "invalidated", "checked", "confirmation", "ended"}
NOT_CONFIRMED = "not confirmed"
_ANSWERS = {
    "yes": "the operator confirmed it",
    "again": "the operator does it now, and it is read again",
    "none": NOT_CONFIRMED,
    "changed": "a later patch shows that it was done",
}


@dataclass(frozen=True, slots=True)
class Event:
    """One of them. ``minutes`` of bench time since its ``session`` (from 1) began; ``wall`` is a label only."""

    seq: int
    wall: str
    session: int
    minutes: float
    kind: str
    step: str
    text: str


def history(records: Iterable[Record]) -> tuple[Event, ...]:
    """All events of a log, in order."""
    events: list[Event] = []
    session, began_ns = 0, 0
    for record in records:
        if record.kind in ("started", "resumed"):
            session, began_ns = session + 1, record.mono_ns
        if record.kind in EVENT_KINDS:
            minutes = (record.mono_ns - began_ns) / 60e9
            events.append(Event(record.seq, record.wall, session, minutes, record.kind, record.step, _text(record)))
    return tuple(events)


def _text(record: Record) -> str:
    body = record.body
    if record.kind == "fault":
        then = body.get("then", "")
        follows = f"; then: {then}" if then else ""
        return f"{body.get('error', 'a fault')}: {body.get('text', '')}{follows}"
    if record.kind == "paused":
        return str(body.get("why", ""))
    if record.kind == "invalidated":
        return f"{len(body.get('steps', ()))} steps measured again: {body.get('why', 'the light changed')}"
    if record.kind == "confirmation":
        return f"{body.get('note', '')}: {_ANSWERS.get(str(body.get('answer')), NOT_CONFIRMED)}"
    if record.kind == "checked":
        return "the first bright and dark patches were read again and agree"
    return {"resumed": "the run continued", "ended": "every step done"}[record.kind]
