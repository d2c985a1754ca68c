"""Planned trouble: its text form, and when it is due."""

from __future__ import annotations

import pytest

from sim.faults import MEANING, FaultSchedule, InjectedFault, parse_trouble


@pytest.mark.parametrize(
    ("text", "trouble"),
    [
        ("reading:12:late:3.5", InjectedFault("reading", 12, 12, "late", "3.5")),
        ("reading:12-14:silent", InjectedFault("reading", 12, 14, "silent")),
        ("at:600.5:unplug", InjectedFault("at", 600.5, 600.5, "unplug")),
        ("command:5:error:E7", InjectedFault("command", 5, 5, "error", "E7")),
        ("identify:2:wrong_meter", InjectedFault("identify", 2, 2, "wrong_meter")),
    ],
)
def test_text_form(text: str, trouble: InjectedFault) -> None:
    assert parse_trouble(text) == trouble


@pytest.mark.parametrize(
    "text",
    [
        "", "reading", "reading:1", "reading:x:late", "reading:0:late:x", "reading:3-2:silent", "never:1:silent",
        "reading:1:fire", "reading:1.5:silent", "reading:1:late:-1", "reading:1:unplug:nan", "at:-1:silent",
    ],
)  # fmt: skip
def test_nonsense_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match=r"^fault "):
        parse_trouble(text)


def test_every_kind_can_be_written() -> None:
    for what in MEANING:
        assert parse_trouble(f"reading:1:{what}").what == what


def test_readings_and_questions_are_counted_apart() -> None:
    troubles = FaultSchedule((parse_trouble("reading:2:silent"), parse_trouble("command:5:half")))
    asked = ["start", "identify", "reading", "reading", "identify", "reading"]
    due = [troubles.due(question, 0.0) for question in asked]
    assert [trouble.what if trouble else None for trouble in due] == [None, None, None, "silent", "half", None]


def test_a_span_is_due_for_each_of_its_readings() -> None:
    troubles = FaultSchedule((parse_trouble("reading:2-3:silent"),))
    assert [troubles.due("reading", 0.0) is not None for _ in range(5)] == [False, True, True, False, False]


def test_a_moment_is_due_once() -> None:
    troubles = FaultSchedule((parse_trouble("at:10:half"),))
    assert [troubles.due("reading", at_s) is not None for at_s in (9.9, 10.1, 10.2)] == [False, True, False]
