"""What happened in a run besides its readings."""

from __future__ import annotations

from benchd.analysis.log.history import INTERRUPTED, history
from benchd.run.log.records import Record


def record(seq: int, kind: str, minutes: float, session: str = "a", **body: object) -> Record:
    return Record(seq, "2026-03-02T18:12:00Z", session, round(minutes * 60e9), kind, "luminance/white", 1, body)


def test_faults_and_pauses_in_order_with_the_minutes_of_their_session() -> None:
    events = history(
        [
            record(1, "started", 2.0),
            record(2, "reading", 3.0),
            record(3, "fault", 5.0, error="MeterLate", text="nothing came in 2 s", then="again"),
            record(4, "paused", 6.0, why="Ctrl-C"),
            record(5, "resumed", 1.0, "b"),
            record(6, "invalidated", 4.0, "b", steps=["a", "b"], why="a lamp"),
            record(7, "ended", 5.0, "b"),
        ]
    )
    assert [(one.seq, one.kind, one.session, one.minutes) for one in events] == [
        (3, "fault", 1, 3.0),
        (4, "paused", 1, 4.0),
        (5, "resumed", 2, 0.0),
        (6, "invalidated", 2, 3.0),
        (7, "ended", 2, 4.0),
    ]
    assert events[0].text == "MeterLate: nothing came in 2 s; then: again"
    assert events[1].text == "Ctrl-C"
    assert events[2].text == "the run continued"
    assert events[3].text == "2 steps measured again: a lamp"


def test_a_session_that_was_killed_is_said() -> None:
    (event,) = history([record(1, "started", 2.0), record(2, "reading", 3.0), record(3, "resumed", 1.0, "b")])
    assert event.text == f"{INTERRUPTED}; the run continued"
