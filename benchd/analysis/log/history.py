"""What happened in a run besides its readings: faults, pauses, reference checks, in order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from benchd.run.log.records import Record

NOT_CONFIRMED = "not confirmed"
INTERRUPTED = "the session before ended without a pause: killed, a crash or a power cut"
_ANSWERS = {
    "yes": "the operator confirmed it",
    "again": "the operator does it now, and it is read again",
    "changed": "a later patch shows that it was done",
}


def _fault(body: Mapping[str, Any]) -> str:
    then = body.get("then", "")
    return f"{body.get('error', 'a fault')}: {body.get('text', '')}{f'; then: {then}' if then else ''}"


EVENTS: Mapping[str, Callable[[Mapping[str, Any]], str]] = {
    "fault": _fault,
    "paused": lambda body: str(body.get("why", "")),
    "resumed": lambda body: "the run continued",
    "invalidated": lambda body: (
        f"{len(body.get('steps', ()))} steps measured again: {body.get('why', 'the light changed')}"
    ),
    "skipped": lambda body: f"the operator skipped {body['point']}, {len(body['steps'])} steps",
    "checked": lambda body: "the first bright and dark patches were read again and agree",
    "confirmation": lambda body: f"{body.get('note', '')}: {_ANSWERS.get(str(body.get('answer')), NOT_CONFIRMED)}",
    "ended": lambda body: "every step done",
}
"""The kinds of records that are events, and what is shown of each."""


class Event(NamedTuple):
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
    for _ in with_history(records, events):
        pass
    return tuple(events)


def with_history(records: Iterable[Record], events: list[Event]) -> Iterator[Record]:
    """The ``records`` as they are, for who needs both: their events are added to ``events`` meanwhile."""
    session, began_ns, paused = 0, 0, False
    for record in records:
        if record.kind in ("started", "resumed"):
            session, began_ns = session + 1, record.mono_ns
        if words := EVENTS.get(record.kind):
            minutes, text = (record.mono_ns - began_ns) / 60e9, words(record.body)
            if record.kind == "resumed" and not paused:
                text = f"{INTERRUPTED}; {text}"
            paused = record.kind == "paused"
            events.append(Event(record.seq, record.wall, session, minutes, record.kind, record.step, text))
        yield record
