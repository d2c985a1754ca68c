"""Moments as a person reads them, in zones with and without letters, over midnight and a change of the clock."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from benchd.local_time import end_time, local_time


@pytest.fixture(autouse=True)
def zone(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Iterator[None]:
    monkeypatch.setenv("TZ", getattr(request, "param", "CET-1CEST,M3.5.0,M10.5.0/3"))
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("label", "read"),
    [
        ("2026-03-02T17:12:03.123Z", "2026-03-02 18:12 CET"),
        ("2026-07-02T17:12:03Z", "2026-07-02 19:12 CEST"),
        ("2026-03-02T23:30:00+00:00", "2026-03-03 00:30 CET"),
        ("2026-03-02T18:00:00-05:00", "2026-03-03 00:00 CET"),
        ("2026-03-02T18:00:00", "2026-03-02T18:00:00"),
        ("soon", "soon"),
        ("", ""),
    ],
)
def test_a_moment_is_read_in_local_time_with_its_zone(label: str, read: str) -> None:
    assert local_time(label) == read


def test_a_log_of_events_has_seconds() -> None:
    assert local_time("2026-03-02T17:12:03.923Z", "%H:%M:%S") == "2026-03-02 18:12:03 CET"


@pytest.mark.parametrize("zone", ["<+0545>-5:45"], indirect=True)
def test_a_zone_without_letters_is_named_by_its_offset(zone: None) -> None:
    assert local_time("2026-03-02T12:00:00Z") == "2026-03-02 17:45 UTC+0545"


@pytest.mark.parametrize(
    ("now", "minutes", "read"),
    [
        ("2026-03-02T17:12:20Z", (30, 30), "18:42 CET"),
        ("2026-03-02T17:12:40Z", (30, 30), "18:43 CET"),
        ("2026-03-02T17:00:00Z", (30, 68), "18:30 to 19:08 CET"),
        ("2026-03-02T22:30:00Z", (10, 50), "23:40 to tomorrow 00:20 CET"),
        ("2026-03-02T22:30:00Z", (40, 50), "tomorrow 00:10 to 00:20 CET"),
        ("2026-03-02T22:30:00Z", (40, 40), "tomorrow 00:10 CET"),
        ("2026-03-02T18:00:00Z", (2000, 2000), "2026-03-04 04:20 CET"),
        ("2026-03-29T00:30:00Z", (20, 40), "01:50 CET to 03:10 CEST"),
        ("2026-03-02T18:12:00+09:00", (0, 0), "10:12 CET"),
    ],
)
def test_the_end_is_a_time_of_the_clock_and_the_next_day_is_said(now: str, minutes: tuple[int, int], read: str) -> None:
    assert end_time(now, 60.0 * minutes[0], 60.0 * minutes[1]) == read
