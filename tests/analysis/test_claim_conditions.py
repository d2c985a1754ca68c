"""Conditions of claims against what logs hold of them: never guessed, and one that differs leaves no verdict."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchd.analysis.catalogue import headlines
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.log.conditions_log import RecordedCondition, StatedCondition
from benchd.analysis.log.results_run import WarmUp
from benchd.analysis.results import Doubt, Results
from benchd.analysis.uncertainty.quantity import Quantity
from benchd.analysis.uncertainty.sources import Fixed, Source
from benchd.analysis.verdicts.claim_conditions import conditions_of
from benchd.analysis.verdicts.claim_verdicts import Claim, check_claims
from tests.report import made

WHITE = Quantity(400.0, "cd/m2", 3, 1.0, sources=Fixed(((Source("readings"), 1.0),)))


def log(**changes: object) -> Results:
    block = replace(made.luminance(), white=WHITE)
    return made.results(luminance=(block,), uncertainty={"calibration_percent": 1.0}, **changes)


def white(results: Results) -> Figure:
    return next(one for one in headlines(results) if one.name == "white luminance")


def states(text: str, **changes: object) -> list[str]:
    results = log(**changes)
    return [one.state for one in conditions_of(text, results, white(results))]


def claim(conditions: str) -> Claim:
    return Claim("white luminance", 350.0, None, "cd/m2", "as written", "the maker's words", conditions)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", []),
        ("preset standard, brightness 100", ["not recorded", "not recorded"]),
        ("SDR", ["met"]),
        ("HDR", ["differs"]),
        ("HDR mode; 10 % window", ["differs", "differs"]),
        ("full screen and SDR signal", ["met", "met"]),
        ("window of 100 %", ["met"]),
        ("at 25 °C", ["not recorded"]),
        ("out of the box.", ["not recorded"]),
    ],
)
def test_each_condition_by_itself(text: str, expected: list[str]) -> None:
    assert states(text, note="", screen={"name": "HDMI-1"}) == expected


@pytest.mark.parametrize(
    ("note", "expected"),
    [
        ("", "not recorded"),
        ("cable 3", "not recorded"),
        ("Brightness 100, preset warm", "met"),
        ("preset warm, brightness: 100.0 %", "met"),
        ("brightness=80", "differs"),
    ],
)
def test_what_the_operator_noted_counts(note: str, expected: str) -> None:
    assert states("brightness 100", note=note) == [expected]


@pytest.mark.parametrize(
    ("signal", "wanted", "expected"),
    [
        ("pq", "HDR", "met"),
        ("hlg", "HDR", "met"),
        ("pq", "PQ", "met"),
        ("pq", "HLG", "differs"),
        ("pq", "SDR", "differs"),
    ],
)
def test_the_signal(signal: str, wanted: str, expected: str) -> None:
    assert states(wanted, screen={"name": "HDMI-1", "signal": signal}) == [expected]
    assert states(wanted, screen={"name": "HDMI-1", "signal": signal}, imported="a.csv") == ["not recorded"]


@pytest.mark.parametrize(
    ("text", "done", "expected"),
    [
        ("after warm-up", None, "not recorded"),
        ("warmed up", WarmUp(True, 24.0, WHITE), "met"),
        ("after 20 min warm-up", WarmUp(True, 24.0, WHITE), "met"),
        ("warm-up of 30 minutes", WarmUp(True, 24.0, WHITE), "differs"),
        ("after warm-up", WarmUp(False, 60.0, WHITE), "differs"),
    ],
)
def test_the_warm_up(text: str, done: WarmUp | None, expected: str) -> None:
    assert states(text, warm_up=done) == [expected]


def test_another_condition_leaves_no_verdict_and_says_why() -> None:
    (checked,) = check_claims([claim("brightness 100")], [log(note="brightness 80")])
    assert checked.outcome == "inconclusive"
    (found,) = checked.findings
    assert found.probability is None
    assert found.why.startswith("measured under another condition: the note says 'brightness 80', the claim is for ")
    assert "else it would be met" in found.why


def test_a_log_under_other_conditions_does_not_hide_one_under_the_claims_own() -> None:
    (checked,) = check_claims([claim("brightness 100")], [log(note="brightness 80"), log(note="brightness 100")])
    assert checked.outcome == "met"
    assert [one.outcome for one in checked.findings] == ["inconclusive", "met"]


def refresh(source: str, *others: StatedCondition, when: str = "") -> tuple[RecordedCondition, ...]:
    return (RecordedCondition("refresh_hz", "refresh rate", 144, "Hz", source, when, others),)


@pytest.mark.parametrize(
    ("conditions", "expected"),
    [
        (refresh("operator"), "met"),
        (refresh("operator", StatedCondition(143.856, "screen")), "met"),
        (refresh("operator", StatedCondition(60, "bench")), "in doubt"),
        (refresh("operator", StatedCondition(60, "bench"), when="2026-01-01"), "in doubt"),
        (refresh("plan", StatedCondition(60, "screen")), "in doubt"),
        (refresh("plan", StatedCondition(60, "bench")), "met"),
        (refresh("bench", StatedCondition(60, "operator", "2026-01-01")), "met"),
        (refresh("display", StatedCondition(60, "operator")), "in doubt"),
    ],
)
def test_a_condition_whose_record_is_contradicted_is_in_doubt(
    conditions: tuple[RecordedCondition, ...], expected: str
) -> None:
    assert states("refresh rate 144 Hz", conditions=conditions) == [expected]
    assert states("refresh rate 60 Hz", conditions=conditions) == ["differs"]


def test_a_contradiction_of_a_later_session_counts_too() -> None:
    doubt = Doubt("condition", "refresh rate was entered as 60 Hz, but the display answers 144 Hz", ("white",))
    assert states("refresh rate 144 Hz", conditions=refresh("display"), doubts=(doubt,)) == ["in doubt"]


def test_a_condition_in_doubt_leaves_no_verdict_and_says_why() -> None:
    contradicted, sure = (
        log(conditions=one) for one in (refresh("operator", StatedCondition(60, "bench")), refresh("operator"))
    )
    (checked,) = check_claims([claim("refresh rate 144 Hz")], [contradicted])
    assert checked.outcome == "inconclusive"
    assert checked.findings[0].why == (
        "in doubt whether measured under the claim's condition: refresh rate was entered as 144 Hz, but the bench "
        "states 60 Hz; else it would be met"
    )
    (checked,) = check_claims([claim("refresh rate 144 Hz")], [contradicted, sure])
    assert checked.outcome == "met"
