"""Drift of the reference patch's colour: its size, whether its scatter explains it, and where it is told."""

from __future__ import annotations

import random
from typing import Any

import pytest

from benchd.analysis.analyse import analyse
from benchd.analysis.results import Results
from benchd.analysis.results_log import ColourDrift
from benchd.report.terminal.results_text import render_text
from tests.analysis.logs import Log, xyz

BLOCK: dict[str, Any] = {"name": "reference", "kind": "reference", "percent": 100, "compensate": True}
MINUTE_NS = 60_000_000_000
NOISE = 0.0002


def measured(x_per_reading: float, *, seed: int = 1, readings: int = 6, each: int = 3, session_at: int = 99) -> Results:
    """A reference of steady luminance whose x goes on by ``x_per_reading``; readings scatter by `NOISE` in x and y."""
    dice = random.Random(seed)
    log = Log([BLOCK])
    for number in range(readings):
        if number == session_at:
            log.session = "s2"
            log.now_ns = 0
            log.add("resumed", {})
        log.now_ns = 10 * number * MINUTE_NS
        x = 0.3127 + x_per_reading * number
        values = [xyz(100.0, x + dice.gauss(0.0, NOISE), 0.3290 + dice.gauss(0.0, NOISE)) for _ in range(each)]
        log.measure(f"reference/{number + 1}", {"number": number + 1}, values)
    return analyse(log.end())


def drift(results: Results) -> ColourDrift:
    return results.drift[0].colour


def test_a_colour_that_goes_is_told_with_its_size() -> None:
    """x by 0.005 at y 0.3290: by CIE 1976, u' = 4 x / (-2 x + 12 y + 3), from 0.19783 to 0.20142."""
    results = measured(0.001)
    found = drift(results)
    assert found.borne_out
    assert found.words.startswith("the colour of the reference patch drifts (u' a line in session 1")
    assert found.maximum_at == "reference/6"
    assert found.maximum_change.value == pytest.approx(0.0038, abs=0.0004)
    assert found.maximum_change.interval is not None
    low, high = found.maximum_change.interval
    assert 0.003 < low < 0.0038 < high < 0.0046
    text = render_text(results)
    assert "compensation acts on luminance only" in " ".join(text.split())
    assert "in u'v'" in text


def test_scatter_is_no_drift() -> None:
    """By chance 1 % each for a slope and a bend of u' and of v': at most 4 % of 100."""
    assert sum(drift(measured(0.0, seed=seed)).borne_out for seed in range(100)) <= 4
    found = drift(measured(0.0))
    assert found.words == ""
    assert found.maximum_change.interval is not None
    assert found.maximum_change.interval[0] == 0.0


def test_what_can_not_be_told() -> None:
    assert drift(measured(0.0, readings=1)).maximum_change.why == "one reading shows no drift"
    assert not drift(measured(0.01, readings=2)).borne_out, "two readings always lie on a line"
    assert not drift(measured(0.001, each=1)).borne_out, "the scatter of single readings is not known"
    assert drift(measured(0.002, session_at=3)).words.count("in session 1") == 2
    assert drift(measured(0.002, session_at=3)).words.count("in session 2") == 2
