"""What counts: readings of attempts that have a `done`, and nothing else."""

from __future__ import annotations

import math
import tracemalloc
from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchd.analysis.log.log_data import collect
from benchd.run.log.records import Record, fold
from tests.analysis.logs import Log, xyz

ROLE = {"level": "white"}


def test_mean_covariance_and_provenance() -> None:
    values = [[95.0, 100.0, 108.0], [95.4, 100.2, 108.1], [94.9, 99.7, 108.3], [95.1, 100.1, 107.8]]
    log = Log([])
    log.measure("luminance/white", ROLE, values, at=(0.3, 0.7))
    measured = collect(log.end()).measured["luminance/white"]
    assert measured.mean == pytest.approx(np.mean(values, axis=0).tolist(), rel=1e-15)
    matrix = np.cov(np.array(values).T)
    expected = [matrix[i, j] for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))]
    assert measured.covariance == pytest.approx(expected, rel=1e-9)
    assert (measured.n, measured.figures, measured.records) == (4, 4, ((3, 6),))
    assert (measured.block, measured.labels, measured.at) == ("luminance", ROLE, (0.3, 0.7))
    assert measured.code == (255, 255, 255)


def test_an_attempt_without_done_does_not_count() -> None:
    log = Log([])
    log.shown("luminance/white", ROLE, attempt=1)
    log.reading("luminance/white", xyz(1.0), attempt=1)
    log.add("fault", {"error": "MeterSilent", "text": "invented", "then": "again"}, "luminance/white", 1)
    log.shown("luminance/white", ROLE, attempt=2)
    log.reading("luminance/white", xyz(100.0), attempt=2)
    log.reading("luminance/white", xyz(102.0), attempt=2)
    log.add("done", {"readings": 2}, "luminance/white", 2)
    log.shown("luminance/black", {"level": "black"})
    log.reading("luminance/black", xyz(0.1))
    log_data = collect(log.records)
    assert list(log_data.measured) == ["luminance/white"]
    measured = log_data.measured["luminance/white"]
    assert measured.mean is not None
    assert measured.mean[1] == 101.0
    assert (measured.n, measured.records) == (2, ((6, 7),))
    assert (log_data.readings, log_data.faults, log_data.ended) == (2, 1, False)


def test_readings_of_a_killed_session_are_dropped_at_the_next_attempt() -> None:
    log = Log([])
    log.shown("luminance/white", ROLE, attempt=1)
    log.reading("luminance/white", xyz(1.0), attempt=1)
    log.add("resumed", {"simulated": False})
    log.shown("luminance/white", ROLE, attempt=2)
    log.reading("luminance/white", xyz(100.0), attempt=2)
    log.add("done", {"readings": 1}, "luminance/white", 2)
    log_data = collect(log.end())
    measured = log_data.measured["luminance/white"]
    assert measured.mean == pytest.approx(xyz(100.0))
    assert (log_data.sessions, log_data.readings) == (2, 1)


def test_statuses_are_counted_and_readings_without_figures_kept() -> None:
    log = Log([])
    log.shown("luminance/black", {"level": "black"}, 0)
    for value, status in ((xyz(0.1), "ok"), (None, "under"), (xyz(0.2), "unstable"), (None, "over")):
        log.reading("luminance/black", value, status)
    log.add("done", {"readings": 4}, "luminance/black")
    measured = collect(log.end()).measured["luminance/black"]
    assert (measured.n, measured.figures) == (4, 2)
    assert (measured.under, measured.over, measured.unstable) == (1, 1, 1)


def test_simulated_anywhere_is_simulated() -> None:
    assert not collect(Log([]).end()).simulated
    assert collect(Log([], simulated=True).end()).simulated
    assert collect(Log([], meter={"simulated": True}).end()).simulated
    assert collect(Log([], screen={"simulated": True}).end()).simulated
    resumed = Log([])
    resumed.add("resumed", {"meter": {"simulated": True}})
    assert collect(resumed.end()).simulated


EVENTS = st.lists(
    st.tuples(st.sampled_from(["shown", "reading", "reading", "fault", "done", "resumed"]), st.sampled_from("ab")),
    max_size=60,
)


@given(EVENTS)
@settings(derandomize=True, max_examples=300, deadline=None)
def test_log_data_counts_what_the_run_counts(events: list[tuple[str, str]]) -> None:
    """A sequencer's log of any course, held against the fold that runs live by."""
    log = Log([])
    attempts: dict[str, int] = {}
    finished: set[str] = set()
    for kind, step in events:
        if kind == "resumed":
            log.add("resumed", {})
        elif step in finished:
            continue
        elif kind == "shown":
            attempts[step] = attempts.get(step, 0) + 1
            log.shown(step, ROLE, attempt=attempts[step])
        elif step in attempts:
            if kind == "reading":
                log.reading(step, xyz(100.0), attempt=attempts[step])
            else:
                log.add(kind, {"error": "X"}, step, attempts[step])
                if kind == "done":
                    finished.add(step)
    state, log_data = fold(log.records), collect(log.records)
    assert set(log_data.measured) == set(state.done) == finished
    assert (log_data.readings, log_data.faults, log_data.sessions) == (state.readings, state.faults, state.sessions)


@given(st.permutations([99.1, 100.0, 100.3, 99.8, 100.9]))
@settings(derandomize=True, max_examples=30, deadline=None)
def test_the_mean_does_not_depend_on_the_order(values: list[float]) -> None:
    log = Log([])
    log.measure("luminance/white", ROLE, [xyz(value) for value in values])
    measured = collect(log.end()).measured["luminance/white"]
    assert measured.mean is not None
    assert measured.mean[1] == math.fsum(sorted(values)) / 5


def long_log(readings: int) -> Iterator[Record]:
    """One step of many readings, made as it is read."""
    yield Record(1, "", "s", 1, "started", "", 1, {"blocks": []})
    yield Record(2, "", "s", 2, "shown", "a/b", 1, {"block": "a", "role": {}})
    for seq in range(3, readings + 3):
        body = {"n": seq, "xyz": [95.0, 100.0 + seq % 7, 108.0], "status": "ok"}
        yield Record(seq, "", "s", seq, "reading", "a/b", 1, body)
    yield Record(readings + 3, "", "s", 0, "done", "a/b", 1, {"readings": readings})


def test_memory_is_bounded_by_the_step_not_by_its_records() -> None:
    tracemalloc.start()
    measured = collect(long_log(20_000)).measured["a/b"]
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert measured.n == 20_000
    assert peak < 20_000 * 200  # three numbers a reading, and their deviations once; a record is ten times that
