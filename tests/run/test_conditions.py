"""Conditions of a run: which statement counts, what a resume finds otherwise, what is entered once and never again."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from hypothesis import given as hypothesis_given
from hypothesis import settings
from hypothesis import strategies as st

from benchd.analysis.analyse import analyse
from benchd.analysis.log.conditions_log import RecordedCondition, recorded_conditions
from benchd.clock import StopRequest
from benchd.command.measure.ask_conditions import conditions_for
from benchd.errors import InputError
from benchd.measuring_conditions import (
    CONDITIONS,
    KINDS_OF_CONDITION,
    SOURCES,
    Value,
    condition_of_control,
    contradictions,
    does_agree,
)
from benchd.profile import profile_store
from benchd.profile.bench import Bench
from benchd.profile.conditions_model import condition_fault, entered
from benchd.report.sections.recorded import changed_conditions, condition_text, recorded_rows
from benchd.report.summary import summary_of
from benchd.run.bench import recorded_conditions as recorded
from benchd.run.bench.entered_conditions import EnteredConditions
from benchd.run.bench.recorded_conditions import (
    Entered,
    Statement,
    conditions_body,
    statements_of,
)
from benchd.run.job import bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.operator_checks import Operator
from benchd.run.rig import Event
from benchd.run.session import Observer, resume, start
from tests.plan.helpers import plan_from, refusal
from tests.report.logged import records

BENCH = profile_store.find("benches", "sim-office").read_text(encoding="utf-8")
PLAN = """\
plan: own
sweep: [{control: brightness, values: [50, 100]}]
conditions: {preset: warm, room_temperature_c: 20}
blocks: [{luminance: {}}]
"""


def bench_of(more: str = "") -> Bench:
    return profile_store.load_bench(BENCH.partition("conditions:")[0] + more, "bench.yaml")


def test_every_condition_has_a_key_a_unit_and_a_range() -> None:
    assert len(KINDS_OF_CONDITION) == len(CONDITIONS)
    for kind in CONDITIONS:
        assert kind.about
        if kind.form == "number":
            assert kind.unit
            assert kind.low < kind.high
            assert kind.key.endswith(("_hz", "_lx", "_c", "_mm", "_deg"))
            for value in (kind.low, kind.high):
                assert condition_fault(kind, value) == ""
            for value in (kind.low - 0.1 - abs(kind.low), kind.high * 1.01 + 1, float("nan"), "12", True, None):
                assert kind.words in condition_fault(kind, value)
    assert [condition_of_control(name) for name in ("brightness", "refresh", "local-dimming", "red-gain")] == [
        *("brightness", "refresh_hz", "local_dimming", "")
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("preset=standard", {"preset": "standard"}),
        ("room_temperature_c=23.5", {"room_temperature_c": 23.5}),
        ("room_temperature_c=23 degC", {"room_temperature_c": 23}),
        ("room temperature c = 23", {"room_temperature_c": 23}),
        ("brightness=80 %", {"brightness": "80 %"}),
        ("firmware=1.10", {"firmware": "1.10"}),
        ("input=1e5", {"input": "1e5"}),
        ("meter_calibrated=2026-03-02", {"meter_calibrated": "2026-03-02"}),
        ("refresh-hz=59.94", {"refresh_hz": 59.94}),
    ],
)
def test_what_an_operator_enters(text: str, expected: dict[str, object]) -> None:
    assert entered([text]) == expected


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("preset", "write NAME=VALUE"),
        ("=3", "write NAME=VALUE"),
        ("preset=", "write NAME=VALUE"),
        ("presett=standard", "did you mean preset"),
        ("room_temperature_c=99", "-20 to 60"),
        ("room_temperature_c=nan", "a number of degC"),
        ("room_temperature_c=73 F", "a number of degC"),
        ("meter_calibrated=2026-02-30", "year-month-day"),
        ("preset=a\tb", "on one line"),
        (f"cable={'x' * 81}", "at most 80 letters"),
    ],
)
def test_what_is_wrong_with_an_entry_is_one_sentence(text: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as found:
        entered([text])
    assert "\n" not in str(found.value)
    with pytest.raises(InputError, match="given twice"):
        entered(["preset=a", "preset=b"])


def test_a_bench_and_a_plan_are_validated_with_their_places() -> None:
    refused = refusal(
        bench_of, "conditions: {room_temperature_c: 99, fo: 1, meter_calibrated: 2026-13-01, refresh_hz: '60'}\n"
    )
    assert len(refused.faults) == 4
    assert bench_of("conditions: {brightness: 80, input: DisplayPort 1}\n").conditions.stated() == {
        "brightness": 80,
        "input": "DisplayPort 1",
    }


def test_which_statement_counts_and_that_all_are_kept() -> None:
    bench = bench_of(
        "conditions: {preset: standard, room_temperature_c: 23, cable: 2 m, meter_calibrated: 2025-01-31}\n"
    )
    plan = plan_from(PLAN)
    given = {"cable": Entered("3 m", "2026-03-01"), "preset": Entered("cool")}
    body = conditions_body(statements_of(plan, bench, given), bench)
    found = {one.key: one for one in recorded_conditions({"conditions": body}, "2026-03-02T10:00:00Z")}
    assert [(key, one.value, one.source) for key, one in found.items() if one.value is not None] == [
        ("preset", "cool", "operator"),
        ("brightness", "50, 100", "swept"),
        ("cable", "2 m", "bench"),
        ("room_temperature_c", 20, "plan"),
        ("meter_calibrated", "2026-03-02", "bench"),
    ]
    assert condition_text(found["preset"]) == "cool (operator; plan: warm; bench: standard)"
    assert condition_text(found["cable"]) == "2 m (bench; operator, entered 2026-03-01: 3 m)"
    assert condition_text(found["firmware"]) == "not recorded"
    assert {one.source for one in found.values() if one.source} <= SOURCES.keys()


@pytest.mark.parametrize(
    ("day", "months", "note"),
    [
        ("2026-03-02", 12, ""),
        ("2025-03-02", 12, ""),
        ("2025-03-01", 12, "due again after 12 months, before the run on 2026-03-02"),
        ("2026-03-03", None, "after the run, which began on 2026-03-02"),
        ("2001-01-01", None, ""),
    ],
)
def test_a_calibration_that_was_over_or_lies_ahead_is_reported(day: str, months: float | None, note: str) -> None:
    body = {"version": 1, "calibration_interval_months": months}
    body["values"] = {"meter_calibrated": [{"value": day, "source": "bench"}]}
    found = recorded_conditions({"conditions": body}, "2026-03-02T10:00:00Z")[-1]
    assert found.note.startswith(note)
    assert bool(found.note) == bool(note)


@pytest.mark.parametrize("head", [{}, {"conditions": None}, {"conditions": {"version": 2, "values": {"preset": 5}}}])
def test_a_log_without_them_or_of_another_version_has_none_recorded(head: dict[str, object]) -> None:
    found = recorded_conditions(head, "2026-03-02T10:00:00Z")
    assert [one.key for one in found] == [one.key for one in CONDITIONS]
    assert {one.value for one in found} == {None}
    [(name, text)] = recorded_rows(analyse(records("quick")))
    assert name == "not recorded"
    assert text.startswith("preset, brightness, firmware, refresh rate, HDR, ")


def test_the_signal_of_the_screen_is_not_said_to_be_the_hdr_mode_of_the_display() -> None:
    def hdr(value: str, source: str) -> RecordedCondition:
        return RecordedCondition("hdr", "HDR", value, "", source)

    assert [hdr("SDR signal", "screen").said, hdr("off", "operator").said] == ["signal SDR", "HDR off"]


def test_what_a_resume_finds_otherwise() -> None:
    bench = bench_of()
    before = conditions_body(
        [
            Statement("preset", "standard", "display"),
            Statement("hdr", "off", "operator"),
            Statement("cable", "2 m", "bench"),
        ],
        bench,
    )["values"]
    now = [
        Statement("preset", "warm", "display"),
        Statement("hdr", "OFF", "operator"),
        Statement("input", "2", "operator"),
    ]
    changed, said = recorded.changed_conditions(before, conditions_body(now, bench))
    assert said == ["preset was standard (display) and is warm (display) now"]
    assert changed["values"].keys() == {"preset", "input"}


def test_a_run_records_its_conditions_and_a_resume_says_what_changed(tmp_path: Path) -> None:
    log, stop, notes = tmp_path / "a.log", StopRequest(), list[str]()

    def pause(event: Event) -> None:
        if event.kind == "reading":
            stop.set("Ctrl-C")

    given = {"room_temperature_c": Entered(24)}
    bench = bench_job("sim-office")
    start(
        plan_job("quick"),
        bench,
        log,
        Operator(stop),
        Observer(event=pause, note=notes.append),
        sample="plover-27/1",
        entered=given,
    )
    outcome = resume(
        log, Operator(), Observer(note=notes.append), entered={"room_temperature_c": Entered(26), "hdr": Entered("off")}
    )
    assert outcome.complete
    assert notes == [
        "HDR was SDR signal (screen) and is off (operator) now",
        "room temperature was 24 degC (operator) and is 26 degC (operator) now",
    ]
    results = analyse(LogFile(log).records())
    found = {one.key: one for one in results.conditions}
    assert (found["preset"].source, condition_text(found["firmware"])) == ("display", "1.4 (display)")
    assert (
        condition_text(found["room_temperature_c"])
        == "24 degC (operator; bench: 23 degC; session 2: 26 degC, operator)"
    )
    assert "room temperature was not the same in all sessions: 24 degC" in " ".join(changed_conditions(results))
    assert json.loads(log.read_text().partition("\n")[0])["body"]["conditions"]["version"] == 1


def test_what_was_entered_is_kept_for_the_sample_and_never_prompted_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    first = EnteredConditions("lab", "plover-27/1")
    first.keep({"preset": "standard", "room_temperature_c": 23}, ["firmware"])
    again, other, unnamed = (EnteredConditions("lab", name) for name in ("plover-27/1", "plover-27/2", ""))
    assert {key: one.value for key, one in again.known().items()} == {"preset": "standard", "room_temperature_c": 23}
    assert again.asked() == {"preset", "room_temperature_c", "firmware"}
    assert (other.known().keys(), other.asked()) == ({"room_temperature_c"}, {"room_temperature_c"})
    unnamed.keep({"preset": "cool"})
    unnamed = EnteredConditions("lab", "")
    assert "preset" not in unnamed.known(), "which display it was is not known"
    assert "preset" in unnamed.asked()
    for broken in (
        "[]",
        '{"": 3}',
        '{"": {"cable": {"value": 3}}}',
        '{"": {"cable": {"value": [1], "when": ""}}}',
        "x",
    ):
        (tmp_path / "benchd" / "lab" / "conditions.json").write_text(broken)
        assert EnteredConditions("lab", "").known() == {}


def test_nothing_is_prompted_for_without_a_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    plan = plan_from(PLAN)
    found = conditions_for(plan, bench_of(), "plover-27/1", {"cable": "2 m"}, ask=True)
    assert found == {"cable": Entered("2 m")}
    assert conditions_for(plan, bench_of(), "plover-27/1", {}, ask=True) == {}, "given for that run alone"


def test_what_was_entered_earlier_fills_only_what_nothing_states_now(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of the bench, the plan, the display, the screen and the meter: the second run has their values."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    job, bench = plan_job("quick"), bench_job("sim-office")
    old = {"room_temperature_c": 30, "meter_calibrated": "2020-01-01", "preset": "cool", "refresh_hz": 144}
    EnteredConditions("sim-office", "a/1").keep({**old, "cable": "3 m"})
    run = [conditions_for(job.plan, bench.bench, "a/1", given, ask=True) for given in ({"room_temperature_c": 26}, {})]
    assert "as entered" not in capsys.readouterr().err, "this bench states them all"
    found = []
    for number, known in enumerate(run):
        log = tmp_path / f"{number}.log"
        start(job, bench, log, Operator(), sample="a/1", entered=known)
        found.append({one.key: one for one in analyse(LogFile(log).records()).conditions})
    first, second = found
    assert (first["room_temperature_c"].value, first["room_temperature_c"].source) == (26, "operator")
    assert (second["room_temperature_c"].value, second["room_temperature_c"].source) == (23, "bench")
    for key in old:
        assert second[key].source in ("display", "meter", "bench")
        assert second[key].others[-1].value == old[key], "kept in the record, with its day"
        assert second[key].others[-1].when


def test_prompted_once_at_a_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a pseudo-terminal: what is wrong is said, what is right is kept, the second run has no question."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    inner, outer = os.openpty()
    terminal = os.fdopen(outer, "r")
    monkeypatch.setattr("sys.stdin", terminal)
    monkeypatch.setattr("benchd.command.measure.ask_conditions.no_operator", lambda: False)
    typed = iter([b"temperature=23\n", b"brightness=77\n", b"room_temperature_c=23, cable=2 m\n"])

    def type_next(*_: object) -> None:
        os.write(inner, next(typed))

    monkeypatch.setattr("benchd.command.measure.ask_conditions.termios.tcflush", type_next)
    plan = plan_from(PLAN)
    found = conditions_for(plan, bench_of(), "plover-27/1", {}, ask=True)
    assert found == {"room_temperature_c": Entered(23), "cable": Entered("2 m")}
    said = capsys.readouterr().err
    assert "did you mean room_temperature_c?" in said
    assert "condition brightness: the plan sweeps brightness (50, 100)" in said
    assert "preset" not in said.partition("yet: ")[2].partition("\n")[0], "the display answers for it"
    again = conditions_for(plan, bench_of(), "plover-27/1", {}, ask=True)
    assert again["cable"].value == "2 m"
    assert ": cable 2 m. Otherwise today?" in capsys.readouterr().err, "the plan states the temperature"
    terminal.close()
    os.close(inner)


def test_a_condition_is_known_by_the_words_that_are_shown_for_it() -> None:
    assert entered(["room light=3 lx", "Refresh rate=60"]) == {"room_illuminance_lx": 3, "refresh_hz": 60}
    for written, advice in (
        ("room light=dark", "room light 'dark': write a number of lx"),
        ("rom light=3", "did you mean room light"),
        ("meter field=3", "write meter_field_deg or meter_field_mm"),
    ):
        with pytest.raises(InputError, match=advice):
            entered([written])


def test_what_the_display_contradicts_is_warned_of_at_once_and_in_doubt_in_every_view(tmp_path: Path) -> None:
    """Entered for this run; the preset agrees, and what was entered for an earlier run may be out of date."""
    log, stop, notes = tmp_path / "a.log", StopRequest(), list[str]()
    said = "brightness was entered as 20, but the display answers 100"

    def pause(event: Event) -> None:
        if event.index == 2:
            stop.set("Ctrl-C")

    observer = Observer(event=pause, note=notes.append)
    given = {"brightness": Entered(20), "preset": Entered("Standard"), "firmware": Entered("1.3", "2026-01-01")}
    start(plan_job("quick"), bench_job("sim-office"), log, Operator(stop), observer, sample="", entered=given)
    assert notes == [f"{said}: the display's answer counts, and the results will say that they are in doubt"]
    results = analyse(LogFile(log).records())
    (doubt,) = results.doubts
    assert (doubt.about, doubt.text, len(doubt.steps)) == ("condition", said, results.steps_done)
    assert f"in doubt: {said}" in " ".join(summary_of(results).warnings)
    resume(log, Operator(), Observer(note=notes.append), entered={"preset": Entered("warm")})
    assert [one.split(" was")[0] for one in notes] == ["brightness", "preset", "brightness"]
    results = analyse(LogFile(log).records())
    assert [one.text for one in results.doubts] == [
        said,
        "preset was entered as warm, but the display answers standard",
    ]
    assert all(not one.changes for one in results.conditions), "the value itself is the same"


def test_a_condition_of_the_plan_counts_as_given_and_one_of_the_bench_does_not() -> None:
    display, plan, bench = ({"value": value, "source": source} for value, source in BY_SOURCE)
    assert [one.text for one in contradictions({"preset": [display, plan, bench]})] == [
        "preset was stated in the plan as warm, but the display answers standard"
    ]
    assert contradictions({"preset": [display, bench]}) == contradictions({"preset": [plan, bench]}) == []


BY_SOURCE = (("standard", "display"), ("warm", "plan"), ("cool", "bench"))


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({"hdr": "on"}, "HDR was entered as on, but the screen reports SDR signal"),
        ({"hdr": "Off"}, ""),
        ({"hdr": "auto"}, ""),
        ({"refresh_hz": 144}, "refresh rate was entered as 144 Hz, but the bench states 60 Hz"),
        ({"refresh_hz": 59.94}, ""),
        ({"local_dimming": "high"}, "local dimming was entered as high, but the bench states off"),
        (
            {"meter_calibrated": "2020-01-01"},
            "meter calibrated was entered as 2020-01-01, but the meter reports 2026-03-02",
        ),
        ({"room_temperature_c": 30}, ""),  # the bench states how the room mostly is
        ({"firmware": "1"}, "firmware was entered as 1, but the display answers 1.4"),
    ],
)
def test_what_any_part_of_the_bench_contradicts_is_warned_of_kept_and_in_doubt(
    tmp_path: Path, given: dict[str, Value], text: str
) -> None:
    log, notes = tmp_path / "a.log", list[str]()
    stated = {key: Entered(value) for key, value in given.items()}
    start(
        plan_job("quick"),
        bench_job("sim-office"),
        log,
        Operator(),
        Observer(note=notes.append),
        sample="",
        entered=stated,
    )
    results = analyse(LogFile(log).records())
    assert [one.partition(": the ")[0] for one in notes] == [one.text for one in results.doubts] == [text] * bool(text)
    (found,) = (one for one in results.conditions if one.key in given)
    assert bool(text) <= (str(*given.values()) in {str(one.value) for one in (found, *found.others)})
    assert bool(text) <= bool(found.others)


def test_a_condition_that_the_plan_sweeps_is_refused_before_the_run() -> None:
    sentence = r"--condition brightness: the plan sweeps brightness \(50, 100\)"
    with pytest.raises(InputError, match=sentence):
        conditions_for(plan_from(PLAN), bench_of(), "", {"brightness": 77}, ask=False)


KEYS = st.sampled_from([one.key for one in CONDITIONS if one.form == "number"])


@hypothesis_given(KEYS, st.floats(-1e5, 1e5), st.integers(0, 3))
@settings(derandomize=True, max_examples=200, deadline=None)
def test_a_number_agrees_with_itself_rounded_whichever_is_first(key: str, value: float, digits: int) -> None:
    rounded = round(value, digits)
    assert does_agree(key, round(value, 4), rounded) == does_agree(key, rounded, round(value, 4))
    assert does_agree(key, round(value, 4), rounded)
    assert not does_agree(key, value, value + abs(value) + 200)
